package desk

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"html"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"sync"
)

// The page's rules for what a browser may load: nothing but this server's own
// files. There is no inline script and no inline style.
const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; " +
	"connect-src 'self'; font-src 'none'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// door lets in one browser on this machine and nobody else.
//
// A page of another site that the same browser shows could reach a loopback
// server too. So a request must come over loopback, name this server as its host
// (another name that was made to point here, DNS rebinding, is refused), come from
// this page when it changes something, and carry the session's cookie, which is
// given once for the token that was printed in the terminal.
type door struct {
	host    string // 127.0.0.1:port
	session string // what the cookie must hold
	onSpent func(address string)

	mu    sync.Mutex
	token string // opens once; then a new one is made
}

func newDoor(host string, onSpent func(address string)) *door {
	return &door{host: host, session: secret(), token: secret(), onSpent: onSpent}
}

// secret makes 256 random bits that fit into an address.
func secret() string {
	var b [32]byte
	rand.Read(b[:]) // never fails; it ends the program instead
	return base64.RawURLEncoding.EncodeToString(b[:])
}

// address is what opens the page once.
func (d *door) address() string {
	d.mu.Lock()
	defer d.mu.Unlock()
	return "http://" + d.host + "/?token=" + d.token
}

// spend takes a token; a right one is used up by it.
func (d *door) spend(token string) bool {
	d.mu.Lock()
	right := subtle.ConstantTimeCompare([]byte(token), []byte(d.token)) == 1
	if right {
		d.token = secret()
	}
	d.mu.Unlock()
	if right && d.onSpent != nil {
		d.onSpent(d.address())
	}
	return right
}

// cookieName carries the port, because browsers share cookies between the ports
// of a host and two desks must not put each other out.
func (d *door) cookieName() string {
	_, port, _ := net.SplitHostPort(d.host)
	return "limbwatch-" + port
}

func (d *door) known(r *http.Request) bool {
	cookie, err := r.Cookie(d.cookieName())
	return err == nil && subtle.ConstantTimeCompare([]byte(cookie.Value), []byte(d.session)) == 1
}

// guard puts the door in front of a handler.
func (d *door) guard(next http.Handler) http.Handler {
	crossing := http.NewCrossOriginProtection()
	crossing.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		refuse(w, r, http.StatusForbidden, "the request comes from another page",
			"changes are taken from the marking page itself only")
	}))
	inner := crossing.Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if token := r.URL.Query().Get("token"); token != "" && r.Method == http.MethodGet {
			d.enter(w, r, token)
			return
		}
		if !d.known(r) {
			refuse(w, r, http.StatusUnauthorized, "this browser has not been let in",
				"open the address that limbwatch desk printed last in the terminal; each address opens the page once")
			return
		}
		next.ServeHTTP(w, r)
	}))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		d.headers(w.Header())
		switch {
		case !fromLoopback(r.RemoteAddr):
			refuse(w, r, http.StatusForbidden, "the request comes from another machine", "the page is for this machine only")
		case !d.ownHost(r.Host):
			refuse(w, r, http.StatusForbidden, "the request names another host than this page's",
				"open the page as http://"+d.host)
		case !d.ownOrigin(r.Header.Get("Origin")):
			refuse(w, r, http.StatusForbidden, "the request comes from another page",
				"open the page as http://"+d.host)
		default:
			inner.ServeHTTP(w, r)
		}
	})
}

// enter trades a token for the session's cookie. A browser that is in already is
// simply sent on, so that the address in its history does no harm.
func (d *door) enter(w http.ResponseWriter, r *http.Request, token string) {
	if !d.spend(token) && !d.known(r) {
		refuse(w, r, http.StatusUnauthorized, "this address has been used, or is not the one that was printed",
			"open the address that limbwatch desk printed last in the terminal")
		return
	}
	http.SetCookie(w, &http.Cookie{
		Name: d.cookieName(), Value: d.session, Path: "/",
		HttpOnly: true, SameSite: http.SameSiteStrictMode,
	})
	rest := r.URL.Query()
	rest.Del("token")
	target := "/"
	if encoded := rest.Encode(); encoded != "" {
		target += "?" + encoded
	}
	if r.Header.Get("Sec-Fetch-Site") == "cross-site" { // from a file: on this way a browser would not send the cookie on
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		fmt.Fprintf(w, `<!doctype html><html lang="en-GB"><meta http-equiv="refresh" content="0;url=%s"><title>limbwatch</title></html>`, html.EscapeString(target))
		return
	}
	http.Redirect(w, r, target, http.StatusSeeOther)
}

func (d *door) headers(h http.Header) {
	h.Set("Content-Security-Policy", contentPolicy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer") // the token must not travel
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
}

// ownHost accepts the address that was printed, and localhost with its port.
func (d *door) ownHost(host string) bool {
	_, port, err := net.SplitHostPort(d.host)
	return err == nil && (host == d.host || strings.EqualFold(host, "localhost:"+port))
}

// ownOrigin accepts no origin at all, or this page's.
func (d *door) ownOrigin(origin string) bool {
	if origin == "" {
		return true
	}
	host, isHTTP := strings.CutPrefix(origin, "http://")
	return isHTTP && d.ownHost(host)
}

func fromLoopback(remote string) bool {
	addr, err := netip.ParseAddrPort(remote)
	return err == nil && addr.Addr().Unmap().IsLoopback()
}
