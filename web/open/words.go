package open

import (
	"net/http"

	"sixmile/web/shell"
)

// wordPart is words that a bag meets at the same station: word.part.<name>.
type wordPart struct {
	Name  string
	Words []wordEntry
}

// wordEntry is a word of the public pages, word.<name> in the catalog, at the
// anchor #<name>. Office is what files, addresses and office pages call it where
// that is another word; those are in English only.
type wordEntry struct {
	Name   string
	Office string
}

// words is the glossary, in the order in which a bag meets them: it reads the
// same way in every language, as an alphabet would not.
var words = []wordPart{
	{"bag", []wordEntry{
		{"bag", ""}, {"bundle", ""}, {"stub", ""}, {"sender", ""}, {"place", ""}, {"township", ""}, {"season", "season"},
	}},
	{"lab", []wordEntry{
		{"eggcount", "count, density"}, {"range", "limits, interval"}, {"method", "method"},
		{"none", ""}, {"unconfirmed", ""}, {"level", "class"}, {"table", "scheme"},
	}},
	{"map", []wordEntry{
		{"group", "tranche"}, {"waiting", "waiting"}, {"blank", ""}, {"joined", "district"}, {"rest", "remainder"},
		{"map", "edition"}, {"code", ""}, {"line", "furrow"}, {"about", "fall figure"}, {"recalled", "recalled"},
	}},
	{"ahead", []wordEntry{
		{"host", ""}, {"resistance", ""}, {"hgtype", ""}, {"ahead", "look-ahead"}, {"edge", "edge"}, {"looked", "standing"},
	}},
}

func (g *grower) words(w http.ResponseWriter, r *http.Request) error {
	return shell.Render(w, r, http.StatusOK, wordsPage(g.page(g.Lang.Say("word.title"), "help"), words))
}

func (g *grower) guideGrower(w http.ResponseWriter, r *http.Request) error {
	return shell.Render(w, r, http.StatusOK, growerGuide(g.page(g.Lang.Say("guide.grower.title"), "help")))
}

func (g *grower) guideMapping(w http.ResponseWriter, r *http.Request) error {
	p := g.page(g.Lang.Say("guide.mapping.title"), "help")
	return shell.Render(w, r, http.StatusOK, mappingGuide(p, g.origin(r)+"/features"))
}
