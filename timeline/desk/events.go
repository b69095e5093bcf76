package desk

import (
	"encoding/json"
	"fmt"
	"net/http"
	"sync"
	"time"
)

// hub tells open pages what changes. A page that does not keep up is cut off: it
// connects again and loads what it missed.
type hub struct {
	mu     sync.Mutex
	pages  map[chan string]bool
	closed bool
}

// mostPages is how many pages may listen at once.
const mostPages = 200

func (h *hub) join() chan string {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.closed || len(h.pages) >= mostPages {
		return nil
	}
	if h.pages == nil {
		h.pages = map[chan string]bool{}
	}
	c := make(chan string, 256)
	h.pages[c] = true
	return c
}

func (h *hub) leave(c chan string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.pages[c] {
		delete(h.pages, c)
		close(c)
	}
}

func (h *hub) tell(event string, data any) {
	b, err := json.Marshal(data)
	if err != nil {
		return
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	for c := range h.pages {
		select {
		case c <- fmt.Sprintf("event: %s\ndata: %s\n\n", event, b):
		default:
			delete(h.pages, c)
			close(c)
		}
	}
}

func (h *hub) close() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.closed = true
	for c := range h.pages {
		delete(h.pages, c)
		close(c)
	}
}

// events is the stream of server-sent events (WHATWG HTML, 9.2).
func (d *Desk) events(w http.ResponseWriter, r *http.Request) {
	c := d.hub.join()
	if c == nil {
		refuse(w, http.StatusServiceUnavailable, "Too many pages of the desk are open; close some.")
		return
	}
	defer d.hub.leave(c)
	w.Header().Set("Content-Type", "text/event-stream")
	out := http.NewResponseController(w)
	beat := time.NewTicker(20 * time.Second) // a page that is gone is noticed
	defer beat.Stop()
	message := "retry: 1000\n\n"
	for ok := true; ok; {
		_ = out.SetWriteDeadline(time.Now().Add(30 * time.Second))
		if _, err := fmt.Fprint(w, message); err != nil || out.Flush() != nil {
			return
		}
		select {
		case <-r.Context().Done():
			return
		case <-beat.C:
			message = ": still here\n\n"
		case message, ok = <-c:
		}
	}
}
