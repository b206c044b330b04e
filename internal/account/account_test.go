package account

import (
	"context"
	"crypto/rand"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/crypto/argon2"
)

func TestPasswords(t *testing.T) {
	h := NewHasher()
	ctx := context.Background()
	stored, err := h.Hash(ctx, "a long enough phrase")
	require.NoError(t, err)
	ok, err := h.Check(ctx, stored, "a long enough phrase")
	require.NoError(t, err)
	require.True(t, ok)
	ok, err = h.Check(ctx, stored, "another phrase")
	require.NoError(t, err)
	require.False(t, ok)
	ok, err = h.Check(ctx, "", "")
	require.NoError(t, err)
	require.False(t, ok, "nobody's password")
	_, err = h.Hash(ctx, "short")
	require.ErrorIs(t, err, ErrPassword)
	_, err = h.Check(ctx, "plain text", "plain text")
	require.Error(t, err)
}

// The stored form is the PHC string format; the key inside is what the
// reference function of golang.org/x/crypto gives for those parameters
// (RFC 9106, argon2id).
func TestStoredFormIsArgon2id(t *testing.T) {
	require.Equal(t, 19, argon2.Version)
	stored, err := NewHasher().Hash(context.Background(), "a long enough phrase")
	require.NoError(t, err)
	require.Regexp(t, `^\$argon2id\$v=19\$m=47104,t=1,p=1\$[A-Za-z0-9+/]{22}\$[A-Za-z0-9+/]{43}$`, stored)
}

func TestTokens(t *testing.T) {
	a, err := NewToken(rand.Reader)
	require.NoError(t, err)
	b, err := ParseToken(a.String())
	require.NoError(t, err)
	require.Equal(t, a, b)
	require.NotEqual(t, a[:], func() []byte { h := a.Hash(); return h[:] }())
	for _, s := range []string{"", "x", a.String() + "A", a.String()[1:]} {
		_, err := ParseToken(s)
		require.ErrorIs(t, err, ErrToken)
	}
}
