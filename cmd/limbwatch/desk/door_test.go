package desk

import (
	"bytes"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestOnlyTheTokenLetsIn(t *testing.T) {
	b := newBench(t)
	first := b.door.address()
	assert.Equal(t, http.StatusUnauthorized, b.call("GET", apiPrefix+"days", nil, nil), "without token or cookie")
	r, err := b.client.Get(b.url + "/?token=" + strings.Repeat("A", 43))
	require.NoError(t, err)
	r.Body.Close()
	assert.Equal(t, http.StatusUnauthorized, r.StatusCode, "with a guessed token")

	b.enter()
	assert.Equal(t, http.StatusOK, b.call("GET", apiPrefix+"days", nil, nil), "with the cookie")
	stranger := &http.Client{}
	r, err = stranger.Get(first)
	require.NoError(t, err)
	r.Body.Close()
	assert.Equal(t, http.StatusUnauthorized, r.StatusCode, "a token opens once")
	assert.NotEqual(t, first, b.door.address(), "a new address is made when one is spent")
}

func TestCookieStaysHome(t *testing.T) {
	b := newBench(t)
	b.client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	r, err := b.client.Get(b.door.address() + "&frame=F1")
	require.NoError(t, err)
	r.Body.Close()
	require.Equal(t, http.StatusSeeOther, r.StatusCode)
	assert.Equal(t, "/?frame=F1", r.Header.Get("Location"), "the token leaves the address, the page's state stays")
	require.Len(t, r.Cookies(), 1)
	c := r.Cookies()[0]
	assert.True(t, c.HttpOnly, "no script reads it")
	assert.Equal(t, http.SameSiteStrictMode, c.SameSite, "no other site sends it")
	assert.Equal(t, "no-referrer", r.Header.Get("Referrer-Policy"), "the token does not travel")
}

// The attacks that a local page has to stand: another machine, DNS rebinding (a
// foreign host name that points here), a foreign page that posts.
func TestDoorRefuses(t *testing.T) {
	b := newBench(t).enter()
	_, port, _ := strings.Cut(strings.TrimPrefix(b.url, "http://"), ":")
	for _, c := range []struct {
		name   string
		method string
		change func(*http.Request)
		status int
	}{
		{"its own page", "GET", func(r *http.Request) {}, http.StatusOK},
		{"localhost, where the cookie is not known", "GET", func(r *http.Request) { r.Host = "localhost:" + port }, http.StatusUnauthorized},
		{"its own origin", "POST", func(r *http.Request) {
			r.Header.Set("Origin", b.url)
			r.Header.Set("Sec-Fetch-Site", "same-origin")
		}, http.StatusOK},
		{"another host name", "GET", func(r *http.Request) { r.Host = "attacker.example:" + port }, http.StatusForbidden},
		{"no port in the host", "GET", func(r *http.Request) { r.Host = "127.0.0.1" }, http.StatusForbidden},
		{"another port in the host", "GET", func(r *http.Request) { r.Host = "127.0.0.1:1" }, http.StatusForbidden},
		{"a foreign origin", "POST", func(r *http.Request) { r.Header.Set("Origin", "http://attacker.example") }, http.StatusForbidden},
		{"a null origin", "POST", func(r *http.Request) { r.Header.Set("Origin", "null") }, http.StatusForbidden},
		{"another port's origin", "POST", func(r *http.Request) { r.Header.Set("Origin", "http://127.0.0.1:1") }, http.StatusForbidden},
		{"cross-site by the browser's word", "POST", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }, http.StatusForbidden},
		{"a page on another port", "POST", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "same-site") }, http.StatusForbidden},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := apiPrefix + "days"
			if c.method == "POST" {
				path = apiPrefix + "undo"
			}
			req, err := http.NewRequest(c.method, b.url+path, nil)
			require.NoError(t, err)
			c.change(req)
			r, err := b.client.Do(req)
			require.NoError(t, err)
			defer r.Body.Close()
			assert.Equal(t, c.status, r.StatusCode)
		})
	}
	t.Run("another machine", func(t *testing.T) {
		for remote, status := range map[string]int{"192.0.2.7:4000": http.StatusForbidden, "127.0.0.1:4000": http.StatusUnauthorized, "[::1]:4000": http.StatusUnauthorized, "": http.StatusForbidden} {
			req := httptest.NewRequest("GET", b.url+"/", nil)
			req.RemoteAddr = remote
			w := httptest.NewRecorder()
			b.door.guard(b.server).ServeHTTP(w, req)
			assert.Equal(t, status, w.Code, "from %q", remote)
		}
	})
}

// Every route that changes something is a POST, and needs the cookie.
func TestChangesNeedTheCookie(t *testing.T) {
	b := newBench(t)
	tried := 0
	for _, r := range b.server.routes() {
		method, path, _ := strings.Cut(r.pattern, " ")
		path = strings.NewReplacer("{$}", "", "{frame}", "F1", "{mark}", "M1", "{other}", "F2", "{level}", "0", "{held}", "x", "{chart}", "disc").Replace(path)
		assert.Contains(t, []string{"GET", "POST"}, method, r.pattern)
		assert.Equal(t, http.StatusUnauthorized, b.call(method, path, map[string]any{}, nil), r.pattern)
		tried++
	}
	assert.Greater(t, tried, 25)
	assert.Equal(t, http.StatusUnauthorized, b.call("POST", "/upload", nil, nil))
}

func TestPageLoadsNothingForeign(t *testing.T) {
	b := newBench(t).enter()
	r, err := b.client.Get(b.url)
	require.NoError(t, err)
	defer r.Body.Close()
	page, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	policy := r.Header.Get("Content-Security-Policy")
	assert.Contains(t, policy, "default-src 'none'")
	assert.NotContains(t, policy, "unsafe")
	assert.NotContains(t, policy, "*")
	assert.NotRegexp(t, `(?i)<script(?:\s+type="module")?>|\son[a-z]+=|\sstyle=|javascript:`, string(page), "no inline script or style")
	assert.NotRegexp(t, `(?i)(src|href)="(https?:)?//`, string(page), "no other host")
	for _, folder := range []string{"static", "templates"} {
		entries, err := files.ReadDir(folder)
		require.NoError(t, err)
		for _, e := range entries {
			body, err := files.ReadFile(folder + "/" + e.Name())
			require.NoError(t, err)
			text := strings.ReplaceAll(string(body), "http://www.w3.org/", "") // names of XML, never fetched
			assert.NotRegexp(t, `https?://`, text, e.Name())
			assert.NotRegexp(t, `\beval\(|innerHTML|document\.write|insertAdjacentHTML|new Function`, text, e.Name())
		}
	}
}

func TestNoFolderIsWalked(t *testing.T) {
	b := newBench(t).enter()
	require.NoError(t, os.WriteFile(filepath.Join(b.dir, "secret.txt"), []byte("secret"), 0o600))
	for _, path := range []string{
		"/static/", "/static/../server.go", "/static/..%2f..%2fgo.mod", "/static/%2e%2e/server.go", "/templates/page.html",
		"/static/../../../secret.txt", "/pictures/", "/..%2fsecret.txt", "/catalogue.db", "//catalogue.db", "/static/main.js/",
		apiPrefix + "frames/..%2f..%2fsecret.txt/pixels", apiPrefix + "frames/F1%2f..%2fx/pixels/0", apiPrefix + "frames/F999/pixels",
	} {
		req, err := http.NewRequest("GET", b.url+path, nil)
		require.NoError(t, err)
		r, err := b.client.Do(req)
		require.NoError(t, err)
		body, err := io.ReadAll(r.Body)
		require.NoError(t, err)
		r.Body.Close()
		assert.GreaterOrEqual(t, r.StatusCode, 400, path)
		assert.Less(t, r.StatusCode, 500, path)
		assert.NotContains(t, string(body), "secret\n", path)
		assert.NotContains(t, string(body), "package desk", path)
	}
}

func TestUploadNamesLeadNowhere(t *testing.T) {
	for sent, kept := range map[string]string{
		"sun.png": "sun.png", "../../etc/passwd": "passwd", `..\..\boot.ini`: "boot.ini", "/abs/olute.fits": "olute.fits",
		".hidden.png": "hidden.png", "a\x00b.png": "a_b.png", "CON:.png": "CON_.png", "": "picture", "..": "picture", "Søn ☉.png": "Søn _.png",
		"<img src=x onerror=alert(1)>.png": "_img src_x onerror_alert(1)_.png",
	} {
		assert.Equal(t, kept, safeName(sent), "%q", sent)
	}
	assert.LessOrEqual(t, len(safeName(strings.Repeat("é", 300)+".png")), 120)
	assert.True(t, strings.HasSuffix(safeName(strings.Repeat("é", 300)+".png"), ".png"))
	assert.True(t, utf8.ValidString(safeName("a"+strings.Repeat("日", 60)+".png")), "cut between characters")
}

func TestUploadsAreBounded(t *testing.T) {
	b := newBench(t).enter()
	var why refusal
	b.server.maxBytes = 10_000
	assert.Equal(t, http.StatusRequestEntityTooLarge, b.upload("big_20260314_120000Z.png", bytes.Repeat([]byte{7}, 20_000), &why))
	assert.NotEmpty(t, why.Hint)
	b.server.maxBytes = maxPictureBytes

	// A PNG of a hundred bytes that claims 60 000 by 60 000 pixels (IHDR, PNG specification 11.2.2).
	bomb := pngHeader(60_000, 60_000)
	assert.Equal(t, http.StatusRequestEntityTooLarge, b.upload("bomb_20260314_120000Z.png", bomb, &why), why.Error)
	assert.GreaterOrEqual(t, b.upload("text_20260314_120000Z.png", []byte("no picture at all"), &why), 400)
	left, err := os.ReadDir(filepath.Join(b.dir, "pictures"))
	require.NoError(t, err)
	assert.Empty(t, left, "what is refused is not kept")
	var days struct{ Days []shoreDay }
	b.call("GET", apiPrefix+"days", nil, &days)
	assert.Empty(t, days.Days)
}
