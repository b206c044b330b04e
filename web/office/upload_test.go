package office

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/tabular"
	"sixmile/web/shell"
)

// fakeUploads knows codes[0..3] with forms, codes[4] without; codes[3] was counted.
type fakeUploads struct {
	calls
	mu     sync.Mutex
	memory tabular.Memory
	taken  map[string]time.Time
	stored []desk.Keyed
	before error
}

func (f *fakeUploads) Memory(context.Context) (tabular.Memory, error) { f.hit(); return f.memory, nil }

func (f *fakeUploads) Remember(_ context.Context, m tabular.Memory) error {
	f.hit()
	f.memory = m
	return nil
}

func (f *fakeUploads) Taken(_ context.Context, digest string) (time.Time, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.taken[digest], nil
}

func (f *fakeUploads) Targets(_ context.Context, list []bag.Code) (desk.Targets, error) {
	m := assay.DefaultMethod()
	known := desk.Targets{codes[0]: {Place: true}, codes[1]: {Place: true}, codes[2]: {Place: true}, codes[4]: {}, codes[5]: {Void: true},
		codes[3]: {Place: true, Head: desk.ID{33}, Method: m, Count: m.Count(7), Is: assay.Reading{Basis: assay.Counted}}}
	out := desk.Targets{}
	for _, c := range list {
		if t, there := known[c]; there {
			out[c] = t
		}
	}
	return out, nil
}

func (f *fakeUploads) Accept(_ context.Context, digest string, results []desk.Keyed, _ account.ID, today time.Time) (int, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.before != nil {
		return 0, f.before
	}
	if _, done := f.taken[digest]; done {
		return 0, nil
	}
	f.taken[digest] = today
	f.stored = append(f.stored, results...)
	return len(results), nil
}

// upload sends a file as a browser does.
func (w *world) upload(t *testing.T, role account.Role, data []byte, pairs ...string) answer {
	t.Helper()
	return w.uploadTo(t, "/office/upload", role, data, pairs...)
}

// uploadTo is upload to another page that takes files.
func (w *world) uploadTo(t *testing.T, path string, role account.Role, data []byte, pairs ...string) answer {
	t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for i := 0; i+1 < len(pairs); i += 2 {
		require.NoError(t, form.WriteField(pairs[i], pairs[i+1]))
	}
	part, err := form.CreateFormFile("file", "counts.csv")
	require.NoError(t, err)
	_, err = part.Write(data)
	require.NoError(t, err)
	require.NoError(t, form.Close())
	r := httptest.NewRequest(http.MethodPost, path, &body)
	r.Header.Set("Content-Type", form.FormDataContentType())
	r.AddCookie(&http.Cookie{Name: shell.SessionCookie, Value: tokenOf(role).String()})
	rec := httptest.NewRecorder()
	w.handler.ServeHTTP(rec, r)
	b, err := io.ReadAll(rec.Body)
	require.NoError(t, err)
	doc, err := goquery.NewDocumentFromReader(bytes.NewReader(b))
	require.NoError(t, err)
	return answer{doc, rec.Code, rec.Header(), string(b)}
}

// settled asks for a draft until nothing works on it.
func (w *world) settled(t *testing.T, role account.Role, path string) answer {
	t.Helper()
	var page answer
	require.Eventually(t, func() bool {
		page = w.get(t, role, path)
		return page.status != http.StatusOK || page.header.Get("Refresh") == ""
	}, 10*time.Second, 5*time.Millisecond)
	return page
}

func (w *world) sent(t *testing.T, data string, pairs ...string) (string, answer) {
	t.Helper()
	got := w.upload(t, tech, []byte(data), pairs...)
	require.Equal(t, http.StatusSeeOther, got.status, got.text("main"))
	path := got.header.Get("Location")
	return path, w.settled(t, tech, path)
}

func csvOf(rows ...string) string { return strings.Join(rows, "\r\n") + "\r\n" }

func TestAFileIsReadShownAndTaken(t *testing.T) {
	t.Setenv("TMPDIR", "/nowhere") // were anything to be put in a temporary file, it could not be
	w := newWorld(t)
	require.Equal(t, http.StatusOK, w.get(t, tech, "/office/upload").status)
	data := csvOf("Bag code;Date counted;Eggs 1;mL;Cyst seen", fmt.Sprintf("%s;2026-11-20;42;2,0;no", codes[0]), fmt.Sprintf("%s;2026-11-20;0;2,0;", codes[1]),
		fmt.Sprintf("%s;2026-11-20;7;2,0;", codes[3]))
	path, page := w.sent(t, data)
	require.Contains(t, page.text("main"), "Text, UTF-8, separated by semicolons, 3 rows.")
	require.Contains(t, page.text(".facts"), "New counts 2 There already, nothing to do 1 Rows that cannot be stored 0")
	require.Empty(t, w.uploads.stored, "nothing is stored before it is accepted")
	verdicts := w.get(t, tech, path+"/verdicts.csv")
	require.Equal(t, 4, strings.Count(verdicts.body, "\r\n"))
	require.Contains(t, verdicts.body, codes[3].String()+",\"There already, nothing to do.\"")

	for range 2 { // pressed twice
		require.Equal(t, http.StatusSeeOther, w.post(t, tech, path, "do", "take").status)
	}
	done := w.settled(t, tech, path)
	require.Contains(t, done.text(".saved"), "2 counts stored.")
	require.Len(t, w.uploads.stored, 2)
	require.Equal(t, 42, w.uploads.stored[0].Count.Aliquots[0].Eggs)
	require.Equal(t, tabular.Code, w.uploads.memory["bag code"].Field)

	// The same file again: said, and nothing to take.
	_, again := w.sent(t, data)
	require.Contains(t, again.text("[role=status]"), "was taken on December 1, 2026")
	require.Zero(t, again.Find("button[value=take]").Length())
	// A draft is its owner's alone.
	require.Equal(t, http.StatusNotFound, w.get(t, account.Coordinator, path).status)
	require.Equal(t, http.StatusNotFound, w.post(t, account.Coordinator, path, "do", "take").status)
}

func TestEveryRowGetsItsVerdict(t *testing.T) {
	w := newWorld(t)
	rows := []string{"code,date,eggs 1,ml", fmt.Sprintf("%s,2026-11-20,42,2", codes[0]), fmt.Sprintf("%s,2026-11-20,x,2", codes[1]),
		fmt.Sprintf("%s,2026-11-20,1,2", codes[4]), fmt.Sprintf("%s,2026-11-20,1,2", codes[5]), fmt.Sprintf("%s,2026-11-20,1,2", codes[7]),
		fmt.Sprintf("%s,2026-11-20,9,2", codes[3]), fmt.Sprintf("%s,2027-11-20,9,2", codes[2]), "O0O0-1111,2026-11-20,1,2", fmt.Sprintf("%s,2026-11-20,42,2", codes[0])}
	path, page := w.sent(t, csvOf(rows...))
	text := page.text("main")
	for _, say := range []string{"Eggs, portion 1: is not a number", "neither form nor slip has come", "was set aside for good", "no bag has it", "another result stands",
		"Day counted: is after today", "has a character that no code has", "stands on an earlier row too", "Rows that cannot be stored 8"} {
		require.Contains(t, text, say)
	}
	require.Equal(t, 8, page.Find(".tall tbody tr").Length())
	require.Zero(t, page.Find("button[value=take]").Length(), "all or nothing")
	require.Equal(t, http.StatusConflict, w.post(t, tech, path, "do", "take").status)
	require.Equal(t, 10, strings.Count(w.get(t, tech, path+"/verdicts.csv").body, "\r\n"))
	require.Empty(t, w.uploads.stored)

	// A reason for what takes another's place settles that row.
	form := page.fields("form:has([value=map])")
	require.Equal(t, http.StatusSeeOther, w.post(t, tech, path, with(form, "why", "lab_corrected", "do", "map")...).status)
	page = w.settled(t, tech, path)
	require.Contains(t, page.text(".facts"), "Take another result’s place 1 Rows that cannot be stored 7")
}

// A correction by file says why, and names the result it replaces.
func TestAFileThatCorrects(t *testing.T) {
	w := newWorld(t)
	path, page := w.sent(t, csvOf("code,date,eggs 1", fmt.Sprintf("%s,2026-11-20,9", codes[3])))
	form := page.fields("form:has([value=map])")
	w.post(t, tech, path, with(form, "why", "mistyped", "do", "map")...)
	require.Equal(t, 1, w.settled(t, tech, path).Find("button[value=take]").Length())
	w.post(t, tech, path, "do", "take")
	require.Contains(t, w.settled(t, tech, path).text(".saved"), "1 count stored")
	require.Equal(t, desk.ID{33}, w.uploads.stored[0].Replaces)
	require.Equal(t, assay.Mistyped, w.uploads.stored[0].Why)

	w.uploads.before = fault.ErrConflict
	path, _ = w.sent(t, csvOf("code,date,eggs 1", fmt.Sprintf("%s,2026-11-20,8", codes[0])))
	w.post(t, tech, path, "do", "take")
	require.Contains(t, w.settled(t, tech, path).text("[role=alert]"), "Nothing was stored: one of these bags changed")
}

func TestColumnsAreMappedByHand(t *testing.T) {
	w := newWorld(t)
	path, page := w.sent(t, csvOf("our number,eggs in a cup,who", fmt.Sprintf("%s,5250,RV", codes[0])), "day", "2026-11-20")
	require.Zero(t, page.Find(".facts").Length(), "the eggs are not found")
	form := page.fields("form:has([value=map])")
	wrong := w.post(t, tech, path, with(form, "column-0", "code", "do", "map")...)
	require.Equal(t, http.StatusUnprocessableEntity, wrong.status)
	require.Contains(t, wrong.text(".problems"), "One column must hold the bag’s code")
	twice := w.post(t, tech, path, with(form, "column-0", "code", "column-1", "code", "do", "map")...)
	require.Equal(t, 1, twice.Find("#column-1[aria-invalid]").Length())
	unit := columnKey(tabular.Column{Field: tabular.Density, Unit: assay.Per250CM3})
	require.Equal(t, http.StatusSeeOther, w.post(t, tech, path, with(form, "column-0", "code", "column-1", unit, "do", "map")...).status)
	page = w.settled(t, tech, path)
	require.Contains(t, page.text(".facts"), "New counts 1")
	require.Equal(t, unit, page.attr("#column-1 option[selected]", "value"))
	w.post(t, tech, path, "do", "take")
	w.settled(t, tech, path)
	require.Equal(t, 5250.0, w.uploads.stored[0].Report.Value)
	// Remembered: the next file of the kind needs no hand.
	path, page = w.sent(t, csvOf("our number,eggs in a cup,who", fmt.Sprintf("%s,250,RV", codes[1])), "day", "2026-11-20")
	require.Contains(t, page.text(".facts"), "New counts 1")
	require.Equal(t, http.StatusSeeOther, w.post(t, tech, path, "do", "forget").status)
}

func TestFilesThatCannotBeRead(t *testing.T) {
	w := newWorld(t)
	for name, data := range map[string]string{"nothing": "", "no table": "\x00\x01\x02", "a quotation mark": "code,eggs\n\"abc", "an old workbook": "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"} {
		got := w.upload(t, tech, []byte(data))
		require.Equal(t, http.StatusUnprocessableEntity, got.status, name)
		require.Equal(t, 1, got.Find("#file[aria-invalid]").Length(), name)
		require.NotContains(t, got.text("#file-wrong"), "[", name)
	}
	big := w.upload(t, tech, bytes.Repeat([]byte("a,b\n"), maxUpload/4+10))
	require.Equal(t, http.StatusUnprocessableEntity, big.status)
	require.Contains(t, big.text("#file-wrong"), "over 24 MB")
	late := w.upload(t, tech, []byte(csvOf("code,eggs 1", "x,1")), "day", "2027-01-01")
	require.Equal(t, http.StatusUnprocessableEntity, late.status)
	require.Equal(t, 1, late.Find("#day[aria-invalid]").Length())
	require.Equal(t, http.StatusUnprocessableEntity, w.post(t, tech, "/office/upload", "day", "x").status, "not a form with a file")
	require.Equal(t, http.StatusNotFound, w.get(t, tech, "/office/upload/AAAAAAAAAAAAAAAAAAAAAA").status)
}

// Every problem that can be found has its sentence.
func TestEveryProblemOfAFileHasItsSentence(t *testing.T) {
	l := newWorld(t).office.Lang
	for _, p := range []tabular.Problem{assay.Missing, assay.NotNumber, assay.NotWhole, assay.NotFinite, assay.Negative, assay.NotPositive, assay.TooLarge,
		assay.TooSmall, assay.TooMany, assay.MoreThanSuspension, assay.MoreThanSlide, assay.Unknown, tabular.CodeLength, tabular.CodeLetter, tabular.CodeCheck,
		tabular.CodeAsNumber, tabular.Formula, tabular.Ambiguous, tabular.NotDate, tabular.TooEarly, tabular.TooLate, tabular.NotYesNo, tabular.BothGiven,
		tabular.CodeDoubled, tabular.NoMethod, bagUnknown, bagVoid, bagNoForm, bagReplaces, sameAgain, replaced} {
		require.True(t, l.Has("upload.problem."+string(p)), p)
	}
	for _, p := range []tabular.FileProblem{tabular.Empty, tabular.TooBig, tabular.NotTable, tabular.OldWorkbook, tabular.Bomb, tabular.Broken,
		tabular.TooManyRows, tabular.TooManyColumns, tabular.Quote} {
		require.True(t, l.Has("upload.file."+string(p)), p)
	}
	for _, f := range tabular.Fields() {
		require.NotContains(t, fieldName(l, f), "[")
	}
}

// A template comes back filled in, as text and as a workbook.
func TestTemplates(t *testing.T) {
	w := newWorld(t)
	text := w.get(t, tech, "/office/upload/template.csv?portions=2")
	require.Equal(t, http.StatusOK, text.status)
	_, page := w.sent(t, text.body+fmt.Sprintf("%s,2026-11-20,,,,2,42,,40,,no,no\r\n", codes[0]))
	require.Contains(t, page.text(".facts"), "New counts 1", page.text("main"))
	book := w.get(t, tech, "/office/upload/template.xlsx?portions=1")
	require.True(t, strings.HasPrefix(book.body, "PK"))
	require.Contains(t, w.get(t, tech, "/office/upload/columns.csv").body, "Bag code")
}
