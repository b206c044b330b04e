package edition_test

import (
	"encoding/binary"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
	"sixmile/internal/place"
)

// The land of the tests: county c (1, 2, ...) has districts 100c+91, 100c+92,
// ... of six townships each, townships 100c+1, 100c+2, ...
const perDistrict = 6

func land(t testing.TB, counties, townships int) edition.Ground {
	t.Helper()
	return landBy(t, counties, townships, perDistrict)
}

func landBy(t testing.TB, counties, townships, perDistrict int) edition.Ground {
	t.Helper()
	var ids []place.ID
	var all []edition.Township
	for c := 1; c <= counties; c++ {
		ids = append(ids, place.ID(c))
		for n := 1; n <= townships; n++ {
			all = append(all, edition.Township{
				ID: township(c, n), County: place.ID(c), District: place.ID(100*c + 91 + (n-1)/perDistrict),
			})
		}
	}
	g, err := edition.NewGround(ids, all)
	require.NoError(t, err)
	return g
}

func township(county, n int) place.ID { return place.ID(100*county + n) }

// mapOf is what an atlas in a bookshop knows of the same land.
func mapOf(counties, townships int) attack.Map {
	m := make(attack.Map)
	for c := 1; c <= counties; c++ {
		m[c] = make(map[int]int)
		for n := 1; n <= townships; n++ {
			m[c][100*c+n] = 100*c + 91 + (n-1)/perDistrict
		}
	}
	return m
}

func sampleID(n int) (id edition.SampleID) {
	binary.BigEndian.PutUint64(id[8:], uint64(n)*0x9E3779B97F4A7C15) // scattered, as random numbers are
	binary.BigEndian.PutUint64(id[:8], uint64(n))
	return id
}

func senderID(n int) (id edition.SenderID) {
	binary.BigEndian.PutUint64(id[:8], uint64(n)+1)
	return id
}

// bags writes waiting results down briefly.
type bags struct {
	made []edition.Pending
}

// add puts n counted bags of one sender into a township of county 1 (0: the
// county alone).
func (b *bags) add(town, sender, season int, standing edition.Standing, n int) *bags {
	at := place.ID(1)
	if town > 0 {
		at = township(1, town)
	}
	id := edition.NoSender
	if sender >= 0 {
		id = senderID(sender)
	}
	for range n {
		b.made = append(b.made, edition.Pending{
			Sample: sampleID(len(b.made) + 1), Sender: id, Standing: standing, Place: at, County: 1,
			Season: season, Received: true, Counted: true,
		})
	}
	return b
}

// uncounted adds a received bag that has no result.
func (b *bags) uncounted(town, season int) *bags {
	b.add(town, 9999, season, edition.Already, 1)
	b.made[len(b.made)-1].Counted = false
	return b
}

func cut(season int) edition.Cut {
	return edition.Cut{Season: season, Day: time.Date(season+1, time.January, 15, 0, 0, 0, 0, time.UTC)}
}

var ranks = edition.Ranks{
	edition.ClassNone, edition.ClassUnconfirmed, edition.ClassFound, edition.ClassFound, edition.ClassFound,
}
