package parcel

import (
	"sixmile/internal/annual"
	"sixmile/internal/press"
)

// workbook is the spreadsheet file of the copy.
func (p *parcel[C]) workbook() press.Workbook {
	w := p.words
	b := press.Workbook{
		Title: w.title(), Lines: w.lines(), Band: w.band(), Foot: w.foot(), Date: p.b.Edition().Released, Tables: p.b.Tables(),
		Words: press.WorkbookWords{
			ReadMe: w.say("annual.book.readme"), Dictionary: w.say("annual.book.dictionary"), Total: w.say("annual.book.total"),
			Sheet: w.say("annual.book.sheet"), Column: w.say("annual.book.column"), Heading: w.say("annual.book.heading"),
			Kind: w.say("annual.book.kind"), Meaning: w.say("annual.book.meaning"),
			BalanceHead: w.say("annual.book.balance"), BalanceValue: w.say("annual.book.difference"),
			Kinds: map[annual.Kind]string{},
		},
	}
	for kind, key := range map[annual.Kind]string{annual.Text: "text", annual.Whole: "whole", annual.Share: "share", annual.Measure: "measure", annual.Money: "money", annual.Day: "day", annual.Year: "whole"} {
		b.Words.Kinds[kind] = w.Lang.SayOf("annual.book.kinds", key)
	}
	for _, column := range []string{"bags", "with_eggs"} {
		b.Balance = append(b.Balance,
			press.Balance{Label: w.Lang.SayOf("annual.balance.places", column), Of: press.TotalOf{Table: "counties", Column: column},
				Less: []press.TotalOf{{Table: "townships", Column: column}, {Table: "groups", Column: column}}},
			press.Balance{Label: w.Lang.SayOf("annual.balance.editions", column), Of: press.TotalOf{Table: "counties", Column: column},
				Less: []press.TotalOf{{Table: "added", Column: column}}})
	}
	return b
}
