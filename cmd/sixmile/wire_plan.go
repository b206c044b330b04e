package main

import (
	"context"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/gazette"
	"sixmile/internal/outlook"
	"sixmile/internal/plan"
	"sixmile/internal/postgres"
	"sixmile/web/office"
)

// purse is the store of the money pages.
func purse(o *opened) office.Purse {
	m := postgres.NewMoney(o.staff)
	return office.Purse{Accounts: m, Fiscal: m, PriceBook: m, Sponsors: m}
}

// planning is the stores of the pages where bags are planned. Figures are read
// over the public's connection: it cannot read a sample.
func planning(o *opened) office.Planning {
	p := postgres.NewPlans(o.staff)
	return office.Planning{Plans: p, Handed: p, Figures: postgres.NewPublished(o.public)}
}

// planner makes the demo's plans as the office's page does, with the form's
// usual weights.
func planner(figures *postgres.Published, plans *postgres.Plans) func(ctx context.Context, season, bags int, day time.Time) error {
	return func(ctx context.Context, season, bags int, day time.Time) error {
		no, err := figures.Latest(ctx)
		if err != nil {
			return err
		}
		issue, err := figures.Issue(ctx, no)
		if err != nil {
			return err
		}
		x, err := gazette.NewIndex(issue)
		if err != nil {
			return err
		}
		ahead, err := outlook.Of(x, nil)
		if err != nil {
			return err
		}
		p, err := plan.New(ahead.Places, plan.Ask{Bags: bags, Least: 10, Return: 0.75, Weights: plan.UsualWeights()})
		if err != nil {
			return err
		}
		_, err = plans.Save(ctx, plan.Saved{Season: season, Edition: no, Day: day, Plan: p, Given: ahead.Places}, account.ID{})
		return err
	}
}
