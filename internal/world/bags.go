package world

import "time"

// pace is when a sender gets bags and goes out with the probe.
type pace struct {
	handed time.Time
	walked time.Time
	spring bool
}

func (b *seasonBuilder) pace(after time.Time) pace {
	if after.IsZero() && chance(b.rng, springShare) {
		p := pace{handed: date(b.year, time.November, between(b.rng, 1, 24)), spring: true}
		p.walked = date(b.year+1, time.April, between(b.rng, 5, 28))
		return p
	}
	p := pace{handed: date(b.year, time.September, between(b.rng, 1, 62))}
	if !after.IsZero() {
		p.handed = after.AddDate(0, 0, between(b.rng, 0, 5))
	}
	p.walked = p.handed.AddDate(0, 0, between(b.rng, 1, 24))
	p.walked = later(p.handed, earlier(p.walked, date(b.year, time.November, lastFallDay-2)))
	return p
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

// bundle hands out a bundle and returns its index.
func (b *seasonBuilder) bundle(county string, day time.Time, size int) int {
	b.out.Bundles = append(b.out.Bundles, Bundle{county, day, size})
	return len(b.out.Bundles) - 1
}

// bags are the bags one farm sends: of some or all of its fields, now and then
// two of one field, out of bundles with sometimes a bag left over.
func (b *seasonBuilder) bags(f *farm, county string, p pace) []Bag {
	order := b.rng.Perm(len(f.fields))
	n := len(order)
	if n > 1 {
		n = between(b.rng, (n+1)/2, n)
	}
	var picked []int
	for _, i := range order[:n] {
		picked = append(picked, i)
		if f.fields[i].acres != AcresUnder40 && chance(b.rng, 0.12) {
			picked = append(picked, i)
		}
	}
	answers := !chance(b.rng, answersNone)
	nextKnown := !chance(b.rng, notKnownYet)
	var out []Bag
	bundle, left := 0, 0
	for k, i := range picked {
		if left == 0 {
			size := min(largestBundle, len(picked)-k)
			if size < largestBundle && chance(b.rng, 0.3) {
				size++
			}
			bundle, left = b.bundle(county, p.handed, size), size
		}
		left--
		bag := b.bag(&f.fields[i], p, answers, nextKnown)
		bag.Bundle = bundle
		out = append(out, bag)
	}
	return out
}

// bag is one sampled field as its grower writes it down.
func (b *seasonBuilder) bag(f *field, p pace, answers, nextKnown bool) Bag {
	t := b.w.Townships[f.tract]
	y := f.years[b.index]
	bag := Bag{
		County: t.County, Township: t.Code,
		Sampled: p.walked.AddDate(0, 0, between(b.rng, 0, 2)),
		Crop:    y.crop, Next: y.next, Source: y.source, Truth: y.eggs,
	}
	bag.Harvest = AfterHarvest
	if ripe := b.harvest(y.crop); bag.Sampled.Before(ripe) {
		bag.Harvest = BeforeHarvest
	}
	if chance(b.rng, countyOnly) {
		bag.Township = ""
	}
	if !nextKnown {
		bag.Next = ""
	}
	if !f.known {
		bag.Source = UnknownSource
	}
	if answers {
		bag.Answers = b.answers(f, y)
	}
	return bag
}

// harvest is about when a crop comes off.
func (b *seasonBuilder) harvest(c Crop) time.Time {
	swing := between(b.rng, -9, 9)
	switch c {
	case Soybean, DryBean:
		return date(b.year, time.October, 1).AddDate(0, 0, swing)
	case Corn, SugarBeet:
		return date(b.year, time.October, 20).AddDate(0, 0, swing)
	default:
		return date(b.year, time.August, 15).AddDate(0, 0, swing)
	}
}

// answers fills the optional questions, each skipped now and then.
func (b *seasonBuilder) answers(f *field, y fieldYear) Answers {
	var a Answers
	if chance(b.rng, 0.85) {
		a.Before = y.before
	}
	if chance(b.rng, 0.85) {
		a.Tillage = f.tillage
	}
	if chance(b.rng, 0.75) {
		a.Texture = f.texture
	}
	if chance(b.rng, 0.5) {
		a.PH = f.ph
	}
	if chance(b.rng, 0.75) {
		a.Acres = f.acres
	}
	return a
}

// post sends a bag to the lab, and counts it if it gets there.
func (b *seasonBuilder) post(bag *Bag, day time.Time) {
	lost := chance(b.rng, lostBags)
	late := chance(b.rng, lateCounts)
	bag.Received = workday(day.AddDate(0, 0, between(b.rng, 2, 8)))
	bag.Counted = workday(bag.Received.AddDate(0, 0, between(b.rng, 4, 30)))
	if late {
		bag.Counted = workday(date(b.year+1, time.February, between(b.rng, 1, 80)))
	}
	bag.Counted = later(bag.Counted, bag.Received)
	bag.Count = washAndCount(b.rng, bag.Truth)
	if lost {
		bag.Received, bag.Counted, bag.Count = time.Time{}, time.Time{}, Count{}
	}
}

// workday moves a Saturday or Sunday to the Monday after.
func workday(d time.Time) time.Time {
	switch d.Weekday() {
	case time.Saturday:
		return d.AddDate(0, 0, 2)
	case time.Sunday:
		return d.AddDate(0, 0, 1)
	}
	return d
}
