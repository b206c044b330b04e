package postgres_test

import (
	"bytes"
	_ "embed"
	"encoding/hex"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
	"sixmile/internal/postgres"
)

// An edition as the first version that could recall wrote it: with a township, a
// group that came out again, and fall figures. Its bytes, digest and code hold in
// every later version; if this test fails, what is wrong is the change.
//
//go:embed testdata/edition-v1.txt
var firstEdition []byte

const (
	firstDigest = "e66e9ef953947b0d5ad5509ffabef0495d7f6581a0ab2e382d049fd45b351510"
	firstCode   = "2C4E-PH"
)

func TestTheFirstEditionStillVerifies(t *testing.T) {
	o := newOffice(t)
	of := o.townships[o.counties[0].ID]
	codes := o.farms(3, of[0].ID, 2020, 0)
	o.farms(6, of[1].ID, 2020, 40)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	o.recall(edition.Ref{Edition: 1, ID: 1}, desk.WrongCount, date(2021, 1, 20))
	o.corrected(codes[0], 9, date(2021, 2, 1))
	o.farms(4, of[0].ID, 2021, 3)
	o.farms(7, of[2].ID, 2021, 260)
	o.release(date(2021, 12, 31), date(2022, 1, 15))

	store := postgres.NewEditions(o.staff)
	text, err := store.Text(ctxOf(t), 2)
	require.NoError(t, err)
	require.Equal(t, string(firstEdition), string(text))
	digest := edition.Digest(text)
	require.Equal(t, firstDigest, hex.EncodeToString(digest[:]))
	require.Equal(t, firstCode, edition.Code(digest))
	no, err := store.Find(ctxOf(t), firstCode)
	require.NoError(t, err)
	require.Equal(t, 2, no)
	o.verified()

	read, err := attack.Read(firstEdition)
	require.NoError(t, err)
	require.Len(t, read.Joins, 1)
	require.True(t, bytes.HasSuffix(firstEdition, []byte("end\n")))
}
