package office

import (
	"net/http"

	"sixmile/internal/account"
	"sixmile/web/shell"
)

// found leads back to what is held for a person who left its page.
type found struct{ Text, Href string }

// of is what is held for somebody; nil: nothing.
func (s *shelf[S]) of(owner account.ID) *held[S] {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, h := range s.list {
		if h.owner == owner {
			return h
		}
	}
	return nil
}

// foundCounts is the person's file of counts, while it is not stored.
func (o *office) foundCounts(r *http.Request) *found {
	h := o.drafts.of(shell.Staff(r).ID)
	if h == nil || h.look().Stage == stageTaken {
		return nil
	}
	return &found{o.Lang.Say("office.found.counts", "name", h.look().Name), "/office/upload/" + h.token.String()}
}

// foundPast is the person's file of past results, while it is not stored.
func (o *office) foundPast(r *http.Request) *found {
	h := o.pastFiles.of(shell.Staff(r).ID)
	if h == nil || h.look().Stage == stageTaken {
		return nil
	}
	return &found{o.Lang.Say("office.found.past", "name", h.look().Name), "/office/history/" + h.token.String()}
}

// foundSummary is the copy that the person had made last, or that is being made.
func (o *office) foundSummary(r *http.Request) *found {
	h := o.summaries.of(shell.Staff(r).ID)
	if h == nil || h.look().failed {
		return nil
	}
	return &found{o.Lang.Say("office.found.summary", "copy", o.Lang.SayOf("annual.copy", string(h.look().name))), "/office/annual/" + h.token.String()}
}

// foundTasks are the files that wait for the person, for the desk. A summary waits for
// nobody.
func (o *office) foundTasks(r *http.Request) (out []task) {
	for _, f := range []*found{o.foundCounts(r), o.foundPast(r)} {
		if f != nil {
			out = append(out, task{f.Text, f.Href, o.Lang.Say("office.found.see")})
		}
	}
	return out
}
