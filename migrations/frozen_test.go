package migrations_test

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A step that a database somewhere has taken must stay what it was: there it is
// never taken again. The list is in the format of sha256sum(1); a new step is added
// to it when it is released, and no line of it ever changes.
func TestFrozenStepsDoNotChange(t *testing.T) {
	list, err := os.Open("frozen.sha256")
	require.NoError(t, err)
	defer list.Close()
	frozen := 0
	for lines := bufio.NewScanner(list); lines.Scan(); frozen++ {
		want, name, ok := strings.Cut(lines.Text(), "  ")
		require.True(t, ok, "a line is a sum, two spaces, a name")
		step, err := os.ReadFile(filepath.Base(name))
		require.NoError(t, err)
		sum := sha256.Sum256(step)
		require.Equal(t, want, hex.EncodeToString(sum[:]), "%s is frozen: undo the change and write the next step instead", name)
	}
	require.GreaterOrEqual(t, frozen, 10, "the first ten steps are released")
}
