package atlas

// What is outlined over the areas: the counties of a state drawn by townships.

// overLines are the outlines.
func (b *builder) overLines() []Item {
	var out []Item
	for _, a := range b.m.over {
		out = append(out, Path{Rings: b.proj.rings(a.Shape), Stroke: Paint{Role: Boundary}, Width: 34, Round: true})
	}
	return out
}

// overNames sets the name of each about its middle, where no other stands. The
// furrows keep clear of it, so that they can still be counted; a name without room
// gives way to its short form, and that to nothing.
func (b *builder) overNames(frame Box) []Item {
	var out []Item
	for _, a := range b.m.over {
		f := newFigure(b.proj.rings(a.Shape))
		for _, s := range []string{a.Code, a.Short} {
			t := Text{Size: b.codeSize * 110 / 100, Face: CondensedSemiBold, Paint: Paint{Role: Ink}, Halo: true, Anchor: Middle, S: s}
			box := t.Bounds().grow(30)
			at, ok := b.scan.spot(f, box.width(), box.height(), b.texts)
			if s == "" || !ok {
				continue
			}
			t.X, t.Y = at.X, at.Y+t.Size*capHeight/2000
			if box = t.Bounds().grow(30); !frame.holds(box) {
				continue
			}
			b.texts, b.named = append(b.texts, box), append(b.named, box)
			out = append(out, t)
			break
		}
	}
	return out
}
