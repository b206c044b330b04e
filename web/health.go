package web

import (
	"context"
	"fmt"
	"net/http"
	"time"
)

// live answers as long as the process does, whatever its database is doing: a
// program that is started anew for its database's sake helps nobody.
func live(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Cache-Control", "no-store")
	fmt.Fprintln(w, "alive")
}

// readyWithin is how long the database has to answer.
const readyWithin = 2 * time.Second

// ready answers whether requests that need the database would be answered now.
func (s *server) ready(w http.ResponseWriter, r *http.Request) {
	ctx, cancel := context.WithTimeout(r.Context(), readyWithin)
	defer cancel()
	w.Header().Set("Cache-Control", "no-store")
	if err := s.Ready(ctx); err != nil {
		s.Log.Warn("not ready", "error", err)
		http.Error(w, "the database does not answer", http.StatusServiceUnavailable)
		return
	}
	fmt.Fprintln(w, "ready")
}
