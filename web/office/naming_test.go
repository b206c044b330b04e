package office

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"
)

// A summary of six lines that all say "write a number" is no summary.
func TestNoTwoProblemsOfAFormReadAlike(t *testing.T) {
	w := newWorld(t)
	for path, forms := range map[string][][]string{
		"/office/methods":   {{"do", "method"}, {"do", "plan"}},
		"/office/money":     {{"do", "budget"}, {"do", "price"}},
		"/office/plan":      {{"do", "work"}},
		"/office/indicator": {{"do", "save"}, {"do", "save", "check", "x", "line-1", "y", "line-2", "z"}},
		"/office/people":    {{"do", "invite"}},
		"/office/slip":      {{"do", "slip"}},
		"/office/quality":   {{}},
		"/office/reported":  {{}},
	} {
		for _, form := range forms {
			page := w.post(t, boss, path, form...)
			require.Equal(t, http.StatusUnprocessableEntity, page.status, path)
			seen := map[string]bool{}
			for _, n := range page.Find(".problems li").Nodes {
				text := page.FindNodes(n).Text()
				require.False(t, seen[text], "%s: %q stands twice", path, text)
				seen[text] = true
			}
			require.NotEmpty(t, seen, path)
		}
	}
	page := w.post(t, boss, "/office/methods", "do", "method")
	require.Contains(t, page.text(".problems li:nth-child(2)"), "Soil, cm³: Write a number")
	require.NotContains(t, page.text("#soil-wrong"), "Soil, cm³", "at the field the label is there already")
}
