package office

import (
	"context"
	"errors"
	"net/http"
	"time"

	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// Queue is the codes that need a person.
type Queue interface {
	Queue(ctx context.Context) ([]desk.QueueItem, error)
	// Settle: fault.ErrNotFound when it is settled already.
	Settle(ctx context.Context, id desk.ID, today time.Time) error
}

// queueView is the page of codes to settle.
type queueView struct {
	Items   []queueRow
	Settled int // just now
	Nothing string
}

type queueRow struct {
	ID, Code, Reason, Day, County string
}

func (o *office) queueShow(w http.ResponseWriter, r *http.Request) error {
	return o.showQueue(w, r, http.StatusOK, queueView{})
}

func (o *office) showQueue(w http.ResponseWriter, r *http.Request, status int, v queueView) error {
	items, err := o.Queue.Queue(r.Context())
	if err != nil {
		return err
	}
	places, err := o.Program.Places(r.Context())
	if err != nil {
		return err
	}
	v.Items = queueRows(o.Lang, newGazetteer(places), items)
	p := o.page(r, o.Lang.Say("queue.title"))
	p.Wide = true
	return shell.Render(w, r, status, queuePage(p, v))
}

func queueRows(l *catalog.Lang, g gazetteer, items []desk.QueueItem) []queueRow {
	var out []queueRow
	for _, q := range items {
		out = append(out, queueRow{
			ID: idText(q.ID), Code: q.Code.String(), Reason: l.SayOf("queue.reason", q.Reason),
			Day: l.Date(q.Day), County: g.name(l, q.County),
		})
	}
	return out
}

// queuePost settles what was ticked. What is settled already stays so: the same
// button pressed twice, or two people at it, change nothing.
func (o *office) queuePost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	var ids []desk.ID
	for _, s := range form["item"] {
		id, ok := parseID(s)
		if !ok || id == (desk.ID{}) {
			return fault.ErrNotFound
		}
		ids = append(ids, id)
	}
	if len(ids) == 0 {
		return o.showQueue(w, r, http.StatusUnprocessableEntity, queueView{Nothing: o.Lang.Say("queue.nothing")})
	}
	settled := 0
	for _, id := range ids {
		err := o.Queue.Settle(r.Context(), id, o.Today())
		if err != nil && !errors.Is(err, fault.ErrNotFound) {
			return err
		}
		settled++
	}
	return o.showQueue(w, r, http.StatusOK, queueView{Settled: settled})
}
