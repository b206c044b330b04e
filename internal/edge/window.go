package edge

// Window is between which falls a place had its first find: after the last look
// that found nothing, up to the first that did. It was seen then; that it
// arrived then is not said.
type Window struct {
	Place int // index into Survey.Places
	// Found tells that there is a find. After is the last fall without one before
	// it, 0 where the first look found it; By is the first fall with one. Where
	// nothing was found, After is the last fall that was looked at and By is 0.
	Found     bool
	After, By int
	// Looked is how many sure bags the looks without a find before it had.
	Looked int
}

// Windows are those of all places with looks of their own, in the survey's order.
func Windows(s Survey) []Window {
	var out []Window
	for i, looks := range s.own() {
		w, judged := Window{Place: i}, 0
		for _, l := range looks {
			judged += l.Judged()
			switch {
			case w.Found:
			case l.Finds > 0:
				// A gathered look may reach back behind the one before it.
				w.Found, w.By = true, l.Through
			case l.None > 0:
				w.After, w.Looked = l.Through, w.Looked+l.None
			}
		}
		if judged > 0 {
			out = append(out, w)
		}
	}
	return out
}
