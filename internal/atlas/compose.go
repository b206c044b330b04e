package atlas

// ComposeCounty lays out a county map on a paper.
func ComposeCounty(c County, p Paper) Scene {
	sh := p.sheet()
	return Scene{Width: sh.width, Height: sh.height, Title: c.Title, Desc: c.Words.Desc}
}

// ComposeState lays out a state map on a paper.
func ComposeState(s State, p Paper) Scene {
	sh := p.sheet()
	return Scene{Width: sh.width, Height: sh.height, Title: s.Title, Desc: s.Words.Desc}
}
