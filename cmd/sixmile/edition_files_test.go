package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/postgres"
)

// filesOfTheDemo: the same program makes the same files of an edition again, old
// ones too; a file that is another is found; and a list is compared only with what
// made it.
func filesOfTheDemo(ctx context.Context, t *testing.T, o *opened) {
	latest, err := postgres.NewPublished(o.public).Latest(ctx)
	require.NoError(t, err)
	newest, err := postgres.NewPublished(o.public).Issue(ctx, latest)
	require.NoError(t, err)
	at := "/county/" + newest.Counties[0].Slug + "/paper/"
	for _, no := range []int{latest, latest - 4} {
		paths := []string{at + "map.png", at + "handout.pdf", at + "newspaper.txt"}
		made := func() *editionFiles {
			f, err := newEditionFiles(ctx, o, console{err: io.Discard}, no)
			require.NoError(t, err)
			return f
		}
		var list bytes.Buffer
		first := made()
		fmt.Fprintln(&list, first.head())
		require.NoError(t, first.each(ctx, paths, func(sum, path string) { fmt.Fprintf(&list, "%s  %s\n", sum, path) }))

		ask := func(list string) (string, error) {
			var out bytes.Buffer
			err := made().compare(ctx, &out, []byte(list))
			return out.String(), err
		}
		said, err := ask(list.String())
		require.NoError(t, err, said)
		require.Equal(t, "3 files compared, 0 differ.\n", said)

		line := strings.Split(list.String(), "\n")[2]
		wrong := strings.Replace(list.String(), line, strings.Repeat("0", 64)+line[64:], 1)
		said, err = ask(wrong)
		require.ErrorIs(t, err, errOtherFiles)
		require.Contains(t, said, "differs: "+paths[1])
		said, err = ask(strings.Replace(wrong, "standing ", "standing 0", 1))
		require.NoError(t, err)
		require.Contains(t, said, "Since the list was made")
		said, err = ask(strings.Replace(wrong, "made by ", "made by 0", 1))
		require.NoError(t, err)
		require.Contains(t, said, "were not compared")
		_, err = ask(strings.Replace(wrong, first.edition.Code, "K7QF-2M", 1))
		require.ErrorContains(t, err, "another edition")
	}
	_, err = newEditionFiles(ctx, o, console{err: io.Discard}, latest+1)
	require.ErrorContains(t, err, "there is no edition")
}

func TestFileListsThatAreNone(t *testing.T) {
	line := strings.Repeat("a", 64) + "  /county/sedge/paper/map.png\n"
	_, l, err := readFileList([]byte("# edition 3 K7QF-2M, made by x, standing y\n" + line))
	require.NoError(t, err)
	require.Equal(t, []string{"/county/sedge/paper/map.png"}, l.paths)
	for _, text := range []string{"", "# edition 3\n", line, "# edition 3\n" + line + line, "# edition 3\nabc  /county/x\n",
		"# edition 3\n" + strings.Repeat("a", 64) + "  /office/desk\n"} {
		_, _, err := readFileList([]byte(text))
		require.Error(t, err, "%q", text)
	}
}
