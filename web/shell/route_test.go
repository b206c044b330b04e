package shell_test

import (
	"context"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/web/shell"
)

// A page that says that the database is away has to come out although the request's
// own time is up.
func TestRenderAfterTheLimit(t *testing.T) {
	ctx, cancel := context.WithDeadline(context.Background(), time.Now().Add(-time.Second))
	defer cancel()
	w := httptest.NewRecorder()
	p := shell.Page{Lang: catalog.English(), About: desk.About{Name: "Soil Watch"}, Title: "Away"}
	require.NoError(t, shell.Render(w, httptest.NewRequest("GET", "/", nil).WithContext(ctx), 503, shell.Notice(p, "Away", "Try again.")))
	require.Equal(t, 503, w.Code)
	require.Contains(t, w.Body.String(), "Try again.")
}
