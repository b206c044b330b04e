package demo

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"time"

	"golang.org/x/sync/errgroup"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/internal/world"
)

// at once: how many bags are handled side by side; the database has two cores as a rule.
const atOnce = 4

// task is one thing that happens to a bag or a visit on a day.
type task struct {
	day time.Time
	do  func(ctx context.Context) error
}

// pile is everything of one kind, done season by season up to each release.
type pile []task

// until takes out what happens on or before the day.
func (p *pile) until(day time.Time) []task {
	var due, later []task
	for _, t := range *p {
		if t.day.After(day) {
			later = append(later, t)
		} else {
			due = append(due, t)
		}
	}
	*p = later
	return due
}

// years takes every season through the program, with a release each January.
func (b *builder) years(ctx context.Context) error {
	var visits, soil, counts, tests pile
	total := len(b.world.Seasons)
	for i, season := range b.world.Seasons {
		b.report(fmt.Sprintf("fall of %d", season.Year), 0.02+0.98*float64(i)/float64(total))
		codes, err := b.issue(ctx, season)
		if err != nil {
			return err
		}
		for n, v := range season.Visits {
			if err := b.plan(season, n, v, codes, &visits, &soil, &counts, &tests); err != nil {
				return err
			}
		}
		release := time.Date(season.Year+1, time.January, 15, 0, 0, 0, 0, time.UTC)
		day := release
		if season.Open {
			day = b.world.Today
		}
		for _, p := range []*pile{&visits, &soil, &counts} {
			if err := run(ctx, p.until(day)); err != nil {
				return err
			}
		}
		if err := b.sign(ctx, day, season.Open); err != nil {
			return err
		}
		if season.Open {
			break
		}
		if err := b.release(ctx, season.Year, release); err != nil {
			return err
		}
		if err := run(ctx, tests.until(b.world.Today)); err != nil { // of the winter after
			return err
		}
		if i >= total-3 { // two plans: one to look back on, one under way
			if err := b.Plan(ctx, season.Year+1, demoBags(b.world.Seasons[i+1]), release.AddDate(0, 0, 14)); err != nil {
				return err
			}
		}
	}
	b.report("ready", 1)
	return nil
}

func run(ctx context.Context, tasks []task) error {
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(atOnce)
	for _, t := range tasks {
		g.Go(func() error { return t.do(ctx) })
	}
	return g.Wait()
}

// sign has the counts of each week signed on the Monday after it. In the open
// fall the last days' counts are left, for whoever tries the demo to sign.
func (b *builder) sign(ctx context.Context, day time.Time, open bool) error {
	unsigned, err := b.SignOff.Unsigned(ctx)
	if err != nil {
		return err
	}
	weeks := map[time.Time][]desk.ID{}
	for _, u := range unsigned {
		monday := u.Day.AddDate(0, 0, 7-(int(u.Day.Weekday())+6)%7)
		if monday.After(day) {
			if open {
				continue
			}
			monday = day
		}
		weeks[monday] = append(weeks[monday], u.Result)
	}
	for _, monday := range slices.SortedFunc(maps.Keys(weeks), time.Time.Compare) {
		if _, _, err := b.SignOff.Sign(ctx, weeks[monday], account.ID{}, monday); err != nil {
			return err
		}
	}
	return nil
}

// issue makes each county's lot and gives every bundle of the model its codes.
func (b *builder) issue(ctx context.Context, season world.Season) (map[int][]bag.Code, error) {
	out := map[int][]bag.Code{}
	for _, issue := range season.Issues {
		var sizes, mine []int
		left := issue.Bags
		for i, bundle := range season.Bundles {
			if bundle.County == issue.County {
				sizes, mine = append(sizes, bundle.Size), append(mine, i)
				left -= bundle.Size
			}
		}
		for ; left > 0; left -= bag.MaxBundle {
			sizes = append(sizes, min(left, bag.MaxBundle)) // still on the shelf
		}
		lot, err := b.Bags.Issue(ctx, b.county[issue.County], season.Year, sizes, seasonOf(season.Year).Opens)
		if err != nil {
			return nil, err
		}
		bundles, _, err := b.Bags.Bundles(ctx, lot)
		if err != nil {
			return nil, err
		}
		bySize := map[int][][]bag.Code{}
		for _, codes := range bundles {
			bySize[len(codes)] = append(bySize[len(codes)], codes)
		}
		for _, i := range mine {
			size := season.Bundles[i].Size
			out[i] = bySize[size][0]
			bySize[size] = bySize[size][1:]
		}
	}
	return out, nil
}

// plan turns a visit into a form to send, soil to log in and counts to key.
func (b *builder) plan(season world.Season, n int, v world.Visit, codes map[int][]bag.Code, visits, soil, counts, tests *pile) error {
	form := sample.Form{Token: token(season.Year, n).String()}
	for g, sender := range v.Senders {
		form.Standings = append(form.Standings, string(sender.Standing))
		for _, in := range sender.Bags {
			if len(codes[in.Bundle]) == 0 {
				return fmt.Errorf("fall %d: bundle %d has fewer bags than were sent", season.Year, in.Bundle)
			}
			code := codes[in.Bundle][0]
			codes[in.Bundle] = codes[in.Bundle][1:]
			form.Bags = append(form.Bags, b.formBag(g, code, in))
			if in.Arrived() {
				*soil = append(*soil, task{in.Received, func(ctx context.Context) error {
					return b.Bags.LogIn(ctx, code, in.Received)
				}})
			}
			b.indicate(season, n, code, in, tests)
			if in.IsCounted() {
				*counts = append(*counts, task{in.Counted, func(ctx context.Context) error {
					return b.Lab.Record(ctx, desk.Keyed{Code: code, Method: b.method, Count: count(in.Count), Day: in.Counted}, account.ID{})
				}})
			}
		}
	}
	ground := sample.Ground{Today: v.Day, Seasons: b.seasons, Places: func(id place.ID) (place.Place, bool) {
		p, ok := b.places[id]
		return p, ok
	}}
	visit, err := sample.NewVisit(form, ground)
	if err != nil {
		return err
	}
	*visits = append(*visits, task{v.Day, func(ctx context.Context) error { return b.Intake.Take(ctx, visit, v.Day) }})
	return nil
}

// token is a visit's token: the same demo has the same answers' addresses.
func token(year, n int) sample.Token {
	sum := sha256.Sum256(binary.BigEndian.AppendUint64([]byte("demo visit "), uint64(year)<<32|uint64(n)))
	return sample.Token(sum[:16])
}

func (b *builder) formBag(grower int, code bag.Code, in world.Bag) sample.FormBag {
	township := sample.CountyOnly
	if in.Township != "" {
		township = strconv.Itoa(int(b.township[[2]string{in.County, in.Township}]))
	}
	return sample.FormBag{
		Grower: grower, Code: code.String(),
		County: strconv.Itoa(int(b.county[in.County])), Township: township,
		Day: in.Sampled.Format(time.DateOnly), Harvest: string(in.Harvest),
		Crop: string(in.Crop), NextCrop: string(in.Next), Resistance: string(in.Source),
		CropBefore: string(in.Answers.Before), Tillage: string(in.Answers.Tillage),
		Texture: string(in.Answers.Texture), PH: string(in.Answers.PH), Acres: string(in.Answers.Acres),
	}
}

// count is what the technician keys.
func count(c world.Count) assay.Count {
	return assay.Count{
		SoilCM3: float64(c.SoilCM3), SuspensionML: float64(c.SuspensionML),
		Aliquots: []assay.Aliquot{{ML: float64(c.AliquotML), Eggs: c.Eggs}}, CystSeen: c.Cyst,
	}
}

// release makes a January's edition of the fall before.
func (b *builder) release(ctx context.Context, season int, day time.Time) error {
	cutoff := time.Date(season, time.December, 31, 0, 0, 0, 0, time.UTC)
	p, err := b.Releases.Preview(ctx, cutoff, day)
	if err != nil {
		return err
	}
	return b.Releases.Release(ctx, p.Number, cutoff, day, p.Stamp, account.ID{})
}

// demoBags is how many bags a season's counties were given.
func demoBags(s world.Season) (n int) {
	for _, lot := range s.Issues {
		n += lot.Bags
	}
	return n
}
