package main

import (
	"context"
	"fmt"

	"sixmile/internal/bag"
	"sixmile/internal/postgres"
)

type bagsCommand struct {
	Issue issueCommand `cmd:"" help:"Issue a lot of bags to a county."`
}

type issueCommand struct {
	database
	County string `help:"Name or code of the county." required:""`
	Season int    `help:"The fall's year." required:""`
	Bags   int    `help:"How many bags." required:""`
	Sizes  []int  `help:"Sizes of the sealed bundles, cut in turn." default:"4,2,1"`
}

// Run issues the lot.
func (i issueCommand) Run(ctx context.Context, c console) error {
	packs, err := bag.PlanBundles(i.Bags, i.Sizes)
	if err != nil {
		return err
	}
	return i.with(ctx, c, func(o *opened) error {
		county, err := findCounty(ctx, postgres.NewProgram(o.staff), i.County)
		if err != nil {
			return err
		}
		sizes := bag.Sizes(packs)
		if _, err := postgres.NewBags(o.staff).Issue(ctx, county.ID, i.Season, sizes, today()); err != nil {
			return err
		}
		fmt.Fprintf(c.out, "%d bags in %d bundles for %s, fall of %d. Print their sheets in the office, under Bags.\n",
			i.Bags, len(sizes), county.Name, i.Season)
		return nil
	})
}
