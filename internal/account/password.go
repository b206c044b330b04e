package account

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
	"golang.org/x/sync/semaphore"
)

// Parameters of argon2id: RFC 9106 recommends 64 MiB and three passes where
// memory is scarce; parallelism is fixed, because the hash depends on it and
// machines differ. A sign-in takes about a tenth of a second.
const (
	argonMemory  = 46 * 1024 // KiB, as common practice for web servers (no source); one pass
	argonPasses  = 1
	argonThreads = 1
	argonKey     = 32
	argonSalt    = 16
	// atOnce bounds memory: so many hashes at a time, the rest wait their turn.
	atOnce = 4
)

// MinPassword is the shortest password taken, in characters.
const MinPassword = 10

// maxPassword is the longest, in bytes.
const maxPassword = 1024

// ErrPassword: too short or too long to be a password.
var ErrPassword = errors.New("account: password length")

// Hasher hashes and checks passwords, a few at a time.
type Hasher struct{ turns *semaphore.Weighted }

// NewHasher makes a hasher; one serves the whole program.
func NewHasher() *Hasher { return &Hasher{semaphore.NewWeighted(atOnce)} }

// Hash makes the stored form of a password: the PHC string format.
func (h *Hasher) Hash(ctx context.Context, password string) (string, error) {
	if n := utf8.RuneCountInString(password); n < MinPassword || len(password) > maxPassword {
		return "", ErrPassword
	}
	salt := make([]byte, argonSalt)
	if _, err := rand.Read(salt); err != nil {
		return "", err
	}
	key, err := h.key(ctx, password, salt, argonMemory, argonPasses, argonThreads)
	if err != nil {
		return "", err
	}
	enc := base64.RawStdEncoding.EncodeToString
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version,
		argonMemory, argonPasses, argonThreads, enc(salt), enc(key)), nil
}

// Check tells whether password belongs to the stored form. An empty stored form
// belongs to nobody, and takes as long to find out.
func (h *Hasher) Check(ctx context.Context, stored, password string) (bool, error) {
	nobody := stored == ""
	if nobody {
		stored = "$argon2id$v=19$m=47104,t=1,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"
	}
	if len(password) > maxPassword {
		return false, nil
	}
	var version, threads int
	var memory, passes uint32
	parts := strings.Split(stored, "$")
	if len(parts) != 6 || parts[1] != "argon2id" {
		return false, errors.New("account: stored password has an unknown form")
	}
	if _, err := fmt.Sscanf(parts[2]+" "+parts[3], "v=%d m=%d,t=%d,p=%d", &version, &memory, &passes, &threads); err != nil {
		return false, fmt.Errorf("account: stored password: %w", err)
	}
	salt, err1 := base64.RawStdEncoding.DecodeString(parts[4])
	want, err2 := base64.RawStdEncoding.DecodeString(parts[5])
	if err := errors.Join(err1, err2); err != nil {
		return false, fmt.Errorf("account: stored password: %w", err)
	}
	got, err := h.key(ctx, password, salt, memory, passes, uint8(threads))
	if err != nil {
		return false, err
	}
	return subtle.ConstantTimeCompare(got, want) == 1 && !nobody, nil
}

func (h *Hasher) key(ctx context.Context, password string, salt []byte, memory, passes uint32, threads uint8) ([]byte, error) {
	if err := h.turns.Acquire(ctx, 1); err != nil {
		return nil, err
	}
	defer h.turns.Release(1)
	return argon2.IDKey([]byte(password), salt, passes, memory, threads, argonKey), nil
}
