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

	"limbwatch/catalog"
	"limbwatch/coords/picture/capture"
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

// forgeries are requests that do not come from this page; those without the cookie are
// what a browser sends of another site's, for the cookie is for this site alone
// (SameSite=Strict, RFC 6265bis 5.6.7.1).
var forgeries = []struct {
	name    string
	inside  bool // the cookie is sent
	reading bool // reading is refused too
	change  func(r *http.Request, port string)
	status  int
}{
	{"no cookie", false, true, func(*http.Request, string) {}, http.StatusUnauthorized},
	{"a guessed cookie", false, true, func(r *http.Request, port string) {
		r.AddCookie(&http.Cookie{Name: "limbwatch-" + port, Value: strings.Repeat("A", 43)})
	}, http.StatusUnauthorized},
	{"a guessed token behind the address", false, true, func(r *http.Request, _ string) { r.URL.RawQuery = "token=" + strings.Repeat("A", 43) }, http.StatusUnauthorized},
	{"another host", true, true, func(r *http.Request, port string) { r.Host = "attacker.example:" + port }, http.StatusForbidden},
	{"a host that begins like this one", true, true, func(r *http.Request, port string) { r.Host = "127.0.0.1.attacker.example:" + port }, http.StatusForbidden},
	{"another port", true, true, func(r *http.Request, _ string) { r.Host = "127.0.0.1:1" }, http.StatusForbidden},
	{"a foreign origin", true, true, func(r *http.Request, _ string) { r.Header.Set("Origin", "http://attacker.example") }, http.StatusForbidden},
	{"an origin that begins like this one", true, true, func(r *http.Request, port string) {
		r.Header.Set("Origin", "http://127.0.0.1:"+port+".attacker.example")
	}, http.StatusForbidden},
	{"this host, encrypted", true, true, func(r *http.Request, port string) { r.Header.Set("Origin", "https://127.0.0.1:"+port) }, http.StatusForbidden},
	{"no origin by name", true, true, func(r *http.Request, _ string) { r.Header.Set("Origin", "null") }, http.StatusForbidden},
	{"cross-site", true, false, func(r *http.Request, _ string) { r.Header.Set("Sec-Fetch-Site", "cross-site") }, http.StatusForbidden},
	{"another port's page", true, false, func(r *http.Request, _ string) { r.Header.Set("Sec-Fetch-Site", "same-site") }, http.StatusForbidden},
}

// Every forgery is refused at every route, and changes nothing. A change is made by POST
// alone, whatever else a request says of its method.
func TestForgedRequestsAreRefusedAtEveryRoute(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	_, port, _ := strings.Cut(strings.TrimPrefix(b.url, "http://"), ":")
	mark := map[string]any{"kind": "plage", "shape": "point", "points": [][2]float64{{f.Disc.XPx, f.Disc.YPx}}}
	require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks"), mark, nil))
	newest := func() catalog.OperationID {
		ops, err := b.keeper.Store.Read(t.Context()).History("", 1)
		require.NoError(t, err)
		require.Len(t, ops, 1)
		return ops[0].ID
	}
	stood := newest()
	send := func(inside bool, method, path string, change func(*http.Request, string)) int {
		req, err := http.NewRequest(method, b.url+path, strings.NewReader(`{"revision": 1}`))
		require.NoError(t, err)
		change(req, port)
		client := b.client
		if !inside {
			client = http.DefaultClient
		}
		r, err := client.Do(req)
		require.NoError(t, err)
		r.Body.Close()
		return r.StatusCode
	}
	type way struct{ method, path string }
	ways := []way{{"GET", "/"}, {"POST", "/upload"}, {"GET", "/static/main.js"}}
	for _, r := range b.server.routes() {
		method, path, _ := strings.Cut(r.pattern, " ")
		path = strings.NewReplacer("{$}", "", "{frame}", f.ID, "{mark}", "M1", "{other}", f.ID, "{level}", "0", "{held}", "x", "{chart}", "disc").Replace(path)
		require.Contains(t, []string{"GET", "POST"}, method, r.pattern)
		ways = append(ways, way{method, path})
	}
	reads := map[string]bool{}
	for _, w := range ways {
		reads[w.path] = reads[w.path] || w.method == "GET"
	}
	tried := 0
	for _, w := range ways {
		for _, forged := range forgeries {
			if w.method == "GET" && !forged.reading {
				continue
			}
			assert.Equal(t, forged.status, send(forged.inside, w.method, w.path, forged.change), "%s: %s %s", forged.name, w.method, w.path)
			tried++
		}
		if w.method != "POST" {
			continue
		}
		for _, method := range []string{"GET", "HEAD", "OPTIONS", "PUT", "PATCH", "DELETE"} {
			if reads[w.path] && (method == "GET" || method == "HEAD") {
				continue // to look is another thing there
			}
			status := send(true, method, w.path, func(r *http.Request, _ string) { r.Header.Set("X-HTTP-Method-Override", "POST") })
			assert.GreaterOrEqual(t, status, 400, "%s %s", method, w.path)
			assert.Less(t, status, 500, "%s %s", method, w.path)
			tried++
		}
	}
	assert.Equal(t, stood, newest(), "nothing was changed")
	assert.Greater(t, tried, 300)
	t.Logf("%d forged requests at %d routes", tried, len(ways))
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
	assert.LessOrEqual(t, len(safeName(strings.Repeat("é", 300)+".png")), maxNameBytes)
	for _, name := range []string{"2026-03-14T152310Z_" + strings.Repeat("日", 200) + ".png", strings.Repeat("x", 250) + "_20260314_152310.png"} {
		kept := safeName(name)
		assert.Equal(t, capture.FromName(name), capture.FromName(kept), "a long name keeps its date: %q", kept)
		assert.NotEmpty(t, capture.FromName(kept).Stamps)
	}
	assert.True(t, strings.HasSuffix(safeName(strings.Repeat("é", 300)+".png"), ".png"))
	assert.True(t, utf8.ValidString(safeName("a"+strings.Repeat("日", 100)+".png")), "cut between characters")
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
