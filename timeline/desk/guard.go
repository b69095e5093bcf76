package desk

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/json"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strings"
	"sync"
	"time"
)

// TokenHeader carries the page's token on every POST.
const TokenHeader = "X-Sidetone-Token"

// nonceKey is where a page's nonce lies in the request's context.
type nonceKey struct{}

// guard stands before everything. It asks whether the page was called by one of its
// own names (else another site's name may have been pointed at this machine: DNS
// rebinding), whether the request comes from a page of ours, whether a change carries
// the token only our pages have, and for the password where there is one.
func (d *Desk) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		nonce := rand.Text()
		h.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self' 'nonce-"+nonce+"'; img-src 'self' data:; media-src 'self' blob:; "+
			"connect-src 'self'; font-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=()")
		h.Set("Cache-Control", "no-store")
		switch {
		case !slices.Contains(d.opt.Hosts, r.Host):
			refuse(w, http.StatusForbidden, "This desk is not called by that name; open the address it printed when it started.")
		case !ours(r):
			refuse(w, http.StatusForbidden, "This came from another site and was refused; open the desk itself.")
		case !d.known(w, r):
		case r.Method == http.MethodGet || r.Method == http.MethodHead:
			next.ServeHTTP(w, withNonce(r, nonce))
		case r.Method != http.MethodPost:
			refuse(w, http.StatusMethodNotAllowed, "The desk only shows things and takes additions.")
		case subtle.ConstantTimeCompare([]byte(r.Header.Get(TokenHeader)), []byte(d.token)) != 1:
			refuse(w, http.StatusForbidden, "This page is from before the desk was started again; load it anew.")
		default:
			next.ServeHTTP(w, withNonce(r, nonce))
		}
	})
}

// ours says whether a request comes from a page of the desk, or from no page at all.
func ours(r *http.Request) bool {
	switch r.Header.Get("Sec-Fetch-Site") {
	case "", "same-origin", "none":
	default:
		// A link on another page may open ours: that shows the other page nothing.
		if r.Method != http.MethodGet || r.Header.Get("Sec-Fetch-Mode") != "navigate" || r.Header.Get("Sec-Fetch-Dest") != "document" {
			return false
		}
	}
	origin := r.Header.Get("Origin")
	if origin == "" {
		return true
	}
	u, err := url.Parse(origin)
	return err == nil && u.Host == r.Host && (u.Scheme == "http" || u.Scheme == "https")
}

// knocks counts wrong passwords, so that nobody can try many.
type knocks struct {
	mu    sync.Mutex
	wrong int
	until time.Time
}

const (
	triesFree = 5
	triesWait = 2 * time.Second
)

// known asks for the password by HTTP Basic authentication, whatever the name.
func (d *Desk) known(w http.ResponseWriter, r *http.Request) bool {
	if d.opt.Password == "" {
		return true
	}
	_, given, ok := r.BasicAuth()
	d.knocks.mu.Lock()
	defer d.knocks.mu.Unlock()
	if ok && time.Now().Before(d.knocks.until) {
		w.Header().Set("Retry-After", "2")
		refuse(w, http.StatusTooManyRequests, "Too many wrong passwords; wait a moment and try again.")
		return false
	}
	if ok && subtle.ConstantTimeCompare([]byte(given), []byte(d.opt.Password)) == 1 {
		d.knocks.wrong = 0
		return true
	}
	if ok {
		if d.knocks.wrong++; d.knocks.wrong >= triesFree {
			d.knocks.until = time.Now().Add(triesWait)
		}
	}
	w.Header().Set("WWW-Authenticate", `Basic realm="sidetone desk", charset="UTF-8"`)
	refuse(w, http.StatusUnauthorized, "Give the password of this desk; the name does not matter.")
	return false
}

// refuse answers with a sentence.
func refuse(w http.ResponseWriter, status int, sentence string) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(Trouble{sentence})
}

func reply(w http.ResponseWriter, status int, v any) {
	b, err := json.Marshal(v)
	if err != nil {
		refuse(w, http.StatusInternalServerError, "The answer could not be written: "+err.Error())
		return
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(b)
}

// noLists keeps folders from being listed.
func noLists(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if name := r.URL.Path; name == "" || strings.HasSuffix(name, "/") || path.Ext(name) == "" {
			refuse(w, http.StatusNotFound, "There is no such file here.")
			return
		}
		next.ServeHTTP(w, r)
	})
}
