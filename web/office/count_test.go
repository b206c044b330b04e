package office

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
)

const tech = account.Technician

// open finds a bag and gives the fields of its form.
func (w *world) open(t *testing.T, c bag.Code) (answer, []string) {
	t.Helper()
	page := w.post(t, tech, "/office/count", "find", c.String())
	require.Equal(t, http.StatusOK, page.status)
	return page, page.fields("form[data-preview]")
}

// Code, Enter, eggs, Enter: the field that has the keyboard, and the button that
// Enter presses, are the right ones at each step. (A browser presses a form's
// first submit button: HTML standard, "implicit submission".)
func TestCountByKeyboard(t *testing.T) {
	w := newWorld(t)
	start := w.get(t, tech, "/office/count")
	require.Equal(t, "find", start.attr("[autofocus]", "name"))

	page, form := w.open(t, codes[0])
	require.Equal(t, "eggs1", page.attr("[autofocus]", "name"))
	require.Equal(t, "numeric", page.attr("#eggs1", "inputmode"))
	require.Equal(t, "save", page.attr("form[data-preview] button", "value"))
	require.Equal(t, "100", page.attr("#soil", "value"))
	require.Equal(t, "100", page.attr("#water", "value"))
	require.Equal(t, "2", page.attr("#ml1", "value"))
	require.Zero(t, page.Find("details[open]").Length())

	saved := w.post(t, tech, "/office/count", with(form, "eggs1", "42", "do", "save")...)
	require.Equal(t, http.StatusOK, saved.status)
	require.Equal(t, "find", saved.attr("[autofocus]", "name"))
	require.Equal(t, 1, saved.Find("#saved[aria-live=polite]").Length())
	// 42 eggs in 2 mL of 100 mL from 100 cm³ are 2,100 (worked by hand); the
	// limits are Garwood's (1936) for 42, 30.27 and 56.77, times 50.
	require.Equal(t, "Saved: "+codes[0].String()+": 2,100, moderate, likely 1,513 to 2,839", saved.text("#saved"))
	require.Len(t, w.lab.records, 1)
	got := w.lab.records[0]
	require.Equal(t, assay.Count{SoilCM3: 100, SuspensionML: 100, Aliquots: []assay.Aliquot{{ML: 2, Eggs: 42}}}, got.count)
	require.Equal(t, assay.DefaultMethod(), got.method)
	require.Equal(t, staffOf(tech).ID, got.by)
	require.Equal(t, desk.ID{}, got.replaces)
}

// With the form as it stands the server's own reading is shown, with and
// without script, and nothing is stored.
func TestReadingIsShownBeforeSaving(t *testing.T) {
	w := newWorld(t)
	_, form := w.open(t, codes[0])
	shown := w.post(t, tech, "/office/count", with(form, "eggs1", "42", "do", "show")...)
	require.Equal(t, http.StatusOK, shown.status)
	fragment := w.post(t, tech, "/office/count/preview", with(form, "eggs1", "42")...)
	require.Equal(t, shown.text("#reading"), fragment.text("body"))
	require.Zero(t, fragment.Find("h1, header, main").Length(), "the fragment stands alone")
	require.Contains(t, fragment.text("body"), "2,100 eggs per 100 cm³ of soil moderate Likely 1,513 to 2,839")
	require.Contains(t, fragment.text("body"), "Within that range the level may be low to moderate.")
	require.Contains(t, fragment.text("body"), "One egg seen stands for 50.")
	require.Equal(t, "42", shown.attr("#eggs1", "value"))
	require.Empty(t, w.lab.records)

	for eggs, want := range map[string]string{
		"":    "Key the eggs to see what they come to.",
		"0":   "Nothing seen is not nothing there",
		"3":   "unconfirmed",
		"200": "Over the whole range the level is moderate.",
		"4x":  "Write a number in digits",
		// Upper limit for none seen in a fiftieth: 3.689 × 50 (Garwood 1936).
		"0 ": "Likely 0 to 184",
	} {
		got := w.post(t, tech, "/office/count/preview", with(form, "eggs1", eggs)...)
		require.Equal(t, http.StatusOK, got.status)
		require.Contains(t, got.text("body"), want, eggs)
	}
	require.Equal(t, http.StatusOK, w.post(t, tech, "/office/count", with(form, "do", "show")...).status)
}

func TestRefusedCountsKeepWhatWasTyped(t *testing.T) {
	for name, c := range map[string]struct {
		set []string
		at  string
		say string
	}{
		"no eggs":             {[]string{"eggs1", ""}, "eggs1", "0 when there were none"},
		"half an egg":         {[]string{"eggs1", "4.5"}, "eggs1", "counted whole"},
		"less than none":      {[]string{"eggs1", "-3"}, "eggs1", "less than zero"},
		"words":               {[]string{"eggs1", "many"}, "eggs1", "in digits"},
		"scanned a code":      {[]string{"eggs1", codes[3].String()}, "eggs1", "That is a bag’s code."},
		"more than a slide":   {[]string{"eggs1", "20001"}, "eggs1", "told apart"},
		"no milliliters":      {[]string{"eggs1", "4", "ml1", ""}, "ml1", "milliliters you looked at"},
		"no soil":             {[]string{"eggs1", "4", "soil", "0"}, "soil", "more than zero"},
		"a yard of soil":      {[]string{"eggs1", "4", "soil", "764555"}, "soil", "5,000 cm³"},
		"no suspension":       {[]string{"eggs1", "4", "water", ""}, "water", "brought up to"},
		"more than there is":  {[]string{"eggs1", "4", "eggs2", "4", "ml2", "99"}, "ml2", "add up to more"},
		"second without eggs": {[]string{"eggs1", "4", "ml3", "2"}, "eggs3", "0 when there were none"},
		"second without mL":   {[]string{"eggs1", "4", "eggs2", "2"}, "ml2", "milliliters you looked at"},
		"too dense":           {[]string{"eggs1", "19999", "soil", "1"}, "eggs1", "more than soil can hold"},
	} {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t)
			_, form := w.open(t, codes[0])
			form = with(form, append(c.set, "cyst", "yes")...)
			page := w.post(t, tech, "/office/count", with(form, "do", "save")...)
			require.Equal(t, http.StatusUnprocessableEntity, page.status)
			require.Empty(t, w.lab.records)
			require.Contains(t, page.text("#"+c.at+"-wrong"), c.say)
			require.Equal(t, "true", page.attr("#"+c.at, "aria-invalid"))
			require.Contains(t, page.attr("#"+c.at, "aria-describedby"), c.at+"-wrong")
			require.Equal(t, "#"+c.at, page.attr(".problems[role=alert] a", "href"))
			require.Equal(t, c.at, page.attr("[autofocus]", "name"), "the keyboard is where the problem is")
			require.Equal(t, asMap(form), asMap(page.fields("form[data-preview]")), "everything typed is kept")
		})
	}
}

func TestPortionsAreAddedUp(t *testing.T) {
	w := newWorld(t)
	_, form := w.open(t, codes[0])
	form = with(form, "eggs1", "20", "eggs3", "1,022", "ml3", "50.5", "juvenile", "yes", "do", "save")
	require.Equal(t, http.StatusOK, w.post(t, tech, "/office/count", form...).status)
	got := w.lab.records[0].count
	require.Equal(t, []assay.Aliquot{{ML: 2, Eggs: 20}, {ML: 50.5, Eggs: 1022}}, got.Aliquots)
	require.True(t, got.JuvenilesSeen)
}

func TestBagsThatTakeNoCount(t *testing.T) {
	w := newWorld(t)
	for name, c := range map[string]struct {
		typed, say string
		status     int
	}{
		"no form": {codes[1].String(), "No form has come for bag", 200},
		"void":    {codes[2].String(), "was set aside for good", 200},
		"unknown": {codes[9].String(), "No bag has the code " + codes[9].String(), 422},
		"no code": {"K7Q", "That is 3 characters", 422},
	} {
		t.Run(name, func(t *testing.T) {
			page := w.post(t, tech, "/office/count", "find", c.typed)
			require.Equal(t, c.status, page.status)
			require.Contains(t, page.text("main"), c.say)
			require.Zero(t, page.Find("form[data-preview]").Length())
			require.Equal(t, "find", page.attr("[autofocus]", "name"))
			if c.status == 422 {
				require.Equal(t, c.typed, page.attr("#find", "value"))
			}
		})
	}
	// The form was taken from the bag while its count was keyed.
	_, form := w.open(t, codes[0])
	w.lab.before = func() {
		b := w.lab.bags[codes[0]]
		b.HasForm = false
		w.lab.bags[codes[0]] = b
	}
	page := w.post(t, tech, "/office/count", with(form, "eggs1", "4", "do", "save")...)
	require.Equal(t, http.StatusConflict, page.status)
	require.Contains(t, page.text("main"), "No form has come")
}

func TestRecountReplacesOnlyWhenAsked(t *testing.T) {
	w := newWorld(t)
	w.lab.put(codes[0], w.recipes.methods[0].Count(42), w.recipes.methods[0])
	first := w.lab.bags[codes[0]].Head
	page, form := w.open(t, codes[0])
	require.Contains(t, page.text("#standing"), "2,100, moderate, likely 1,513 to 2,839")
	require.Empty(t, page.attr("#eggs1", "value"), "a recount is counted, not copied")

	refused := w.post(t, tech, "/office/count", with(form, "eggs1", "50", "do", "save")...)
	require.Equal(t, http.StatusUnprocessableEntity, refused.status)
	require.Contains(t, refused.text("#why-wrong"), "Pick why yours replaces it")
	require.Equal(t, "why", refused.attr("[autofocus]", "name"))
	require.Equal(t, "50", refused.attr("#eggs1", "value"))
	require.Empty(t, w.lab.records)

	again := with(form, "eggs1", "50", "why", "mistyped", "do", "save")
	require.Contains(t, w.post(t, tech, "/office/count", again...).text("#saved"), "2,500")
	require.Equal(t, first, w.lab.records[0].replaces)

	// The same button pressed twice stores one result.
	twice := w.post(t, tech, "/office/count", again...)
	require.Equal(t, http.StatusOK, twice.status)
	require.Contains(t, twice.text("#saved"), "2,500")
	require.Len(t, w.lab.records, 1)
}

func TestFirstCountPressedTwice(t *testing.T) {
	w := newWorld(t)
	_, form := w.open(t, codes[0])
	form = with(form, "eggs1", "10", "eggs2", "20", "ml2", "2", "do", "save")
	for range 2 {
		page := w.post(t, tech, "/office/count", form...)
		require.Equal(t, http.StatusOK, page.status)
		require.Contains(t, page.text("#saved"), "750, low")
	}
	require.Len(t, w.lab.records, 1)
}

// Two technicians on one bag: the slower one sees both values and loses nothing.
func TestAnotherTechnicianWasFaster(t *testing.T) {
	for name, when := range map[string]func(w *world, theirs func()){
		"before the page is read": func(_ *world, theirs func()) { theirs() },
		"while it is stored":      func(w *world, theirs func()) { w.lab.before = theirs },
	} {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t)
			_, form := w.open(t, codes[0])
			when(w, func() { w.lab.put(codes[0], w.recipes.methods[0].Count(60), w.recipes.methods[0]) })
			mine := with(form, "eggs1", "42", "cyst", "yes", "do", "save")
			page := w.post(t, tech, "/office/count", mine...)
			require.Equal(t, http.StatusConflict, page.status)
			require.Contains(t, page.text("#conflict"), "3,000, moderate")
			require.Contains(t, page.text("#conflict"), "2,100, moderate")
			require.Equal(t, "42", page.attr("#eggs1", "value"))
			require.Equal(t, 1, page.Find("[name=cyst][checked]").Length())
			require.Empty(t, w.lab.records)

			// What the page holds now replaces theirs, once it is asked for.
			form = page.fields("form[data-preview]")
			require.Equal(t, http.StatusUnprocessableEntity, w.post(t, tech, "/office/count", with(form, "do", "save")...).status)
			done := w.post(t, tech, "/office/count", with(form, "why", "mistyped", "do", "save")...)
			require.Equal(t, http.StatusOK, done.status)
			require.Len(t, w.lab.records, 1)
			require.Equal(t, 42, w.lab.records[0].count.Aliquots[0].Eggs)
		})
	}
}

// Another recipe brings its own amounts, and is never saved with the last one's.
func TestAnotherRecipe(t *testing.T) {
	w := newWorld(t)
	_, form := w.open(t, codes[0])
	other := methodKey(w.recipes.methods[1])
	page := w.post(t, tech, "/office/count", with(form, "method", other, "eggs1", "42", "ml1", "4", "do", "save")...)
	require.Equal(t, http.StatusOK, page.status)
	require.Empty(t, w.lab.records)
	require.Equal(t, "250", page.attr("#soil", "value"))
	require.Equal(t, "4", page.attr("#ml1", "value"), "a changed amount stays")
	require.Contains(t, page.text("main"), "You picked another recipe.")
	saved := w.post(t, tech, "/office/count", with(page.fields("form[data-preview]"), "do", "save")...)
	require.Equal(t, "250", amount(w.lab.records[0].count.SoilCM3))
	require.Equal(t, assay.MethodSoil250, w.lab.records[0].method.Name)
	// The next bag starts with the same recipe.
	next := w.post(t, tech, "/office/count", with(saved.fields("form"), "find", codes[3].String())...)
	require.Equal(t, other, next.attr("#method option[selected]", "value"))
	require.Equal(t, "250", next.attr("#soil", "value"))
}

func TestOneRecipeNeedsNoChoice(t *testing.T) {
	w := newWorld(t)
	w.recipes.methods = w.recipes.methods[:1]
	page, form := w.open(t, codes[0])
	require.Zero(t, page.Find("select").Length())
	require.Equal(t, http.StatusOK, w.post(t, tech, "/office/count", with(form, "eggs1", "1", "do", "save")...).status)

	w.recipes.methods = []assay.Method{{Name: "own_recipe", Version: 2, SoilCM3: 100, SuspensionML: 50, AliquotML: 1, Recovery: 1, EggsPerCyst: 150}}
	page, form = w.open(t, codes[3])
	require.Equal(t, "own_recipe.2", page.attr("input[name=method]", "value"))
	preview := w.post(t, tech, "/office/count/preview", with(form, "eggs1", "40")...)
	require.Contains(t, preview.text("body"), "was not made for counts by this recipe")
}

func TestReleasedBagSaysWhatARecountDoes(t *testing.T) {
	w := newWorld(t)
	w.lab.put(codes[0], w.recipes.methods[0].Count(42), w.recipes.methods[0])
	b := w.lab.bags[codes[0]]
	b.State = bag.Released
	w.lab.bags[codes[0]] = b
	page, _ := w.open(t, codes[0])
	require.Contains(t, page.text("#standing"), "the map keeps what was released")
}

// Every problem that assay can find in a count has a sentence here.
func TestEveryProblemOfACountHasItsSentence(t *testing.T) {
	l := newWorld(t).office.Lang
	for _, name := range fieldOrder {
		for _, p := range []assay.Problem{assay.Missing, assay.NotNumber, assay.NotWhole, assay.NotFinite, assay.Negative,
			assay.NotPositive, assay.TooLarge, assay.MoreThanSuspension, assay.MoreThanSlide, isCode} {
			if name == "why" && p != assay.Missing {
				continue
			}
			require.NotContains(t, problemText(l, name, p), "[", "%s %s", name, p)
		}
	}
	for _, s := range bag.States() {
		if s != bag.Void {
			require.True(t, l.Has("count.state."+string(s)), s)
		}
	}
	for _, sc := range assay.Presets() {
		for _, c := range sc.Classes {
			require.True(t, l.Has("level."+c.Name), c.Name)
		}
	}
}
