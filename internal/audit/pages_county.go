package audit

import (
	"regexp"
	"strconv"
	"strings"

	"github.com/PuerkitoBio/goquery"
)

// state reads the first page.
func (r *pageReader) state(page *goquery.Selection) {
	rows := page.Find("table.figures tbody tr")
	if rows.Length() != len(r.Counties) {
		r.fail("%d rows for %d counties", rows.Length(), len(r.Counties))
		return
	}
	rows.Each(func(_ int, row *goquery.Selection) {
		id, known := r.bySlug[strings.TrimPrefix(row.Find("th a").AttrOr("href", ""), "/county/")]
		if !known {
			r.fail("a row of no county")
			return
		}
		r.countyRow(Scope{County: id}, row)
	})
	r.countyRow(Scope{}, page.Find("table.figures tfoot tr"))
	if short := words(page.Find("p.map-short")); len(numbers(short)) > 0 {
		r.measures(Scope{}, short, FoundInAll, WithFigures, FoundIn, Shown)
	}
	r.stateMap(page)
}

func (r *pageReader) countyRow(s Scope, row *goquery.Selection) {
	cells := row.Find("td.num")
	if cells.Length() != 4 {
		r.fail("a row with %d figures", cells.Length())
		return
	}
	r.measures(s, words(cells.Eq(0)), Shown)
	r.level(s, label(row.Find("td.level")))
	has := len(numbers(words(cells.Eq(2)))) > 0
	r.claim(s, HasFigures, strconv.FormatBool(has))
	if has {
		r.measures(s, words(cells.Slice(1, 4)), FoundIn, Samples, Finds)
	}
}

// stateMap reads the marks of the counties.
func (r *pageReader) stateMap(page *goquery.Selection) {
	page.Find("[data-place]").Each(func(_ int, g *goquery.Selection) {
		id, err := strconv.Atoi(g.AttrOr("data-place", ""))
		if _, known := r.byID[id]; err != nil || !known {
			r.fail("a mark of no county")
			return
		}
		r.claim(Scope{County: id}, Mark, g.AttrOr("data-mark", ""))
		if _, figures, has := strings.Cut(r.title(g), "; "); has {
			r.measures(Scope{County: id}, figures, Samples, Finds)
		}
	})
	r.totals(page, Scope{}, FoundInAll, WithFigures)
}

// title is a mark's name, without the place's own.
func (r *pageReader) title(g *goquery.Selection) string {
	title := words(g.ChildrenFiltered("title"))
	return title[strings.LastIndex(title, ": ")+1:]
}

var totals = regexp.MustCompile(`^([\d,]+) bags?, falls up to \d+$`)

// totals reads the line under a map's heading, and the map's description.
func (r *pageReader) totals(page *goquery.Selection, s Scope, described ...Measure) {
	page.Find("svg desc").Each(func(_ int, d *goquery.Selection) {
		if _, found, has := strings.Cut(words(d), "Eggs found in "); has {
			r.measures(s, found, described...)
		}
	})
	page.Find("svg text").Each(func(_ int, t *goquery.Selection) {
		if m := totals.FindStringSubmatch(words(t)); m != nil {
			r.measures(s, m[1], Samples)
		}
	})
}

// countyPage reads a county's tables and sentences.
func (r *pageReader) countyPage(page *goquery.Selection) {
	whole := Scope{County: r.county.ID}
	townships := 0
	page.Find("table.figures tbody tr").Each(func(_ int, row *goquery.Selection) {
		id := row.AttrOr("id", "")
		switch slug, isTownship := strings.CutPrefix(id, "t-"); {
		case isTownship:
			township, known := r.county.Townships[slug]
			if !known {
				r.fail("a row of no township: %s", id)
				return
			}
			townships++
			r.placeRow(Scope{County: r.county.ID, Township: township}, row)
		case strings.HasPrefix(id, "joined-"):
			n, err := strconv.Atoi(strings.TrimPrefix(id, "joined-"))
			if err != nil {
				r.fail("a row of no joined townships: %s", id)
			}
			r.placeRow(Scope{County: r.county.ID, Joined: n}, row)
		case id == "rest":
			r.placeRow(Scope{County: r.county.ID, Rest: true}, row)
		default:
			r.fail("a row of nothing known: %q", id)
		}
	})
	if townships != len(r.county.Townships) {
		r.fail("%d rows for %d townships", townships, len(r.county.Townships))
	}
	r.placeRow(whole, page.Find("table.figures tfoot tr"))
	r.levels(page.Find("table.levels"))
	r.short(page.Find(".in-short"))
	page.Find("table.near tbody tr").Each(func(_ int, n *goquery.Selection) { r.near(n) })
	r.countyMap(page)
}

func (r *pageReader) placeRow(s Scope, row *goquery.Selection) {
	cells := row.Find("td")
	if cells.Length() != 5 {
		r.fail("a row with %d cells", cells.Length())
		return
	}
	has := len(numbers(words(cells.Eq(1)))) > 0
	r.claim(s, HasFigures, strconv.FormatBool(has))
	if !has {
		return
	}
	r.level(s, label(cells.Eq(0)))
	r.measures(s, words(cells.Slice(1, 4)), Samples, Finds, Unconfirmed)
	r.claim(s, Window, words(cells.Eq(4)))
}

// levels reads how many bags are at each level.
func (r *pageReader) levels(table *goquery.Selection) {
	if table.Length() == 0 {
		return
	}
	s := Scope{County: r.county.ID}
	if caption := words(table.Find("caption")); len(numbers(caption)) > 0 { // of one bag it says "the bag"
		r.measures(s, caption, Samples)
	}
	table.Find("tbody tr").Each(func(i int, row *goquery.Selection) {
		m := Unsorted
		if i < len(r.Levels) {
			m = Level(i)
			if rank, ok := r.rank(label(row.Find("th"))); !ok || rank != i {
				r.fail("level %d has the name of another", i)
			}
		}
		r.measures(s, words(row.Find("td.num")), m)
	})
}

// short reads the sentences.
func (r *pageReader) short(box *goquery.Selection) {
	s := Scope{County: r.county.ID}
	if found := box.Find("p.found"); found.Length() > 0 {
		for _, sentence := range strings.SplitAfter(words(found), ". ") {
			switch {
			case strings.HasPrefix(sentence, "Also in "):
				r.measures(s, sentence, GroupsFound, Groups)
			case len(numbers(sentence)) > 0:
				r.measures(s, sentence, FoundIn, Shown)
			}
		}
	}
	if share := box.Find("p.finds-share"); share.Length() > 0 {
		r.measures(s, words(share), Judged, Finds, Share)
	}
	if highest, _, ok := strings.Cut(strings.TrimPrefix(words(box.Find("p.highest")), "Highest level: "), ", in "); ok {
		r.level(s, highest)
	}
	if fall := box.Find("p.fall"); fall.Length() > 0 {
		r.fall(words(fall))
	}
}

var (
	fallYear    = regexp.MustCompile(`^Fall of (\d+): `)
	fallSamples = regexp.MustCompile(`about ([\d,]+) bags counted`)
	fallFinds   = regexp.MustCompile(`(about [\d,]+|seven or fewer|none) of them with eggs`)
	fallHighest = regexp.MustCompile(`The highest level among them is ([^.]+)\.`)
)

// fall reads the figure of this fall, waiting results included.
func (r *pageReader) fall(text string) {
	year := fallYear.FindStringSubmatch(text)
	if year == nil {
		r.fail("a fall figure of no fall")
		return
	}
	n, err := strconv.Atoi(year[1])
	if err != nil {
		r.fail("a fall figure of no fall")
	}
	s := Scope{County: r.county.ID, Fall: n}
	samples, finds := fallSamples.FindStringSubmatch(text), fallFinds.FindStringSubmatch(text)
	if samples == nil || finds == nil {
		if !strings.Contains(text, "too few senders") {
			r.fail("a fall figure without figures")
		}
		r.claim(s, HasFigures, "false")
		return
	}
	r.measures(s, samples[1], Samples)
	switch finds[1] {
	case "none":
		r.claim(s, Finds, "0")
	case "seven or fewer":
		r.claim(s, Finds, "5")
	default:
		r.measures(s, finds[1], Finds)
	}
	if highest := fallHighest.FindStringSubmatch(text); highest != nil {
		r.level(s, highest[1])
	} else {
		r.claim(s, Highest, "-1") // not told
	}
}

// near reads a row of the table that compares the county with those next door.
// The last row, the rest of the state, is a sum of its own and is not read.
func (r *pageReader) near(row *goquery.Selection) {
	cells := row.Find("td")
	if cells.Length() != 6 {
		r.fail("a neighbor's row with %d cells", cells.Length())
		return
	}
	s := Scope{County: r.county.ID}
	if href, linked := row.Find("th a").Attr("href"); linked {
		id, known := r.bySlug[strings.TrimPrefix(href, "/county/")]
		if !known {
			r.fail("a neighbor that is no county")
			return
		}
		s.County = id
	} else if !row.HasClass("here") {
		return
	}
	found := words(cells.Eq(1))
	has := len(numbers(found)) > 0
	r.claim(s, HasFigures, strconv.FormatBool(has))
	if has {
		r.level(s, label(cells.Eq(0)))
		r.measures(s, found, FoundIn, Shown)
		r.measures(s, words(cells.Eq(3)), Samples)
	}
}

// countyMap reads the marks of townships and of joined townships.
func (r *pageReader) countyMap(page *goquery.Selection) {
	ours := make(map[int]bool, len(r.county.Townships))
	for _, id := range r.county.Townships {
		ours[id] = true
	}
	mark := func(s Scope, g *goquery.Selection) {
		r.claim(s, Mark, g.AttrOr("data-mark", ""))
		if _, figures, has := strings.Cut(r.title(g), "; "); has && len(numbers(figures)) >= 2 {
			r.measures(s, figures, Samples, Finds)
		}
	}
	page.Find("[data-place]").Each(func(_ int, g *goquery.Selection) {
		id, err := strconv.Atoi(g.AttrOr("data-place", ""))
		if err != nil || !ours[id] {
			r.fail("a mark of no township of the county")
			return
		}
		mark(Scope{County: r.county.ID, Township: id}, g)
	})
	page.Find("[data-joined]").Each(func(_ int, g *goquery.Selection) {
		n, err := strconv.Atoi(strings.TrimPrefix(g.AttrOr("data-joined", ""), "j"))
		if err != nil {
			r.fail("a mark of no joined townships")
			return
		}
		mark(Scope{County: r.county.ID, Joined: n + 1}, g)
	})
	r.totals(page, Scope{County: r.county.ID}, FoundIn, Shown)
}
