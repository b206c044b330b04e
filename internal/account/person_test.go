package account

import (
	"errors"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/fault"
	"sixmile/internal/place"
)

func TestNewStaff(t *testing.T) {
	ab := []place.ID{2, 1}
	for name, c := range map[string]struct {
		login, name string
		role        Role
		counties    []place.ID
		wrong       []string
		kept        []place.ID
	}{
		"clerk":               {" Robin ", " Robin Vale ", Clerk, []place.ID{2}, nil, []place.ID{2}},
		"clerk of two":        {"robin", "Robin", Clerk, ab, []string{"counties"}, nil},
		"clerk of none":       {"robin", "Robin", Clerk, nil, []string{"counties"}, nil},
		"educator":            {"robin", "Robin", Educator, append(ab, 2), nil, []place.ID{1, 2}},
		"educator of none":    {"robin", "Robin", Educator, nil, []string{"counties"}, nil},
		"technician":          {"robin", "Robin", Technician, ab, nil, nil},
		"coordinator":         {"robin", "Robin", Coordinator, nil, nil, nil},
		"no role":             {"robin", "Robin", "", ab, []string{"role"}, nil},
		"made-up role":        {"robin", "Robin", "owner", ab, []string{"role"}, nil},
		"one letter":          {"r", "Robin", Technician, nil, []string{"login"}, nil},
		"a space":             {"ro bin", "Robin", Technician, nil, []string{"login"}, nil},
		"a letter with marks": {"röbin", "Robin", Technician, nil, []string{"login"}, nil},
		"no name":             {"robin", " ", Technician, nil, []string{"name"}, nil},
		"a long name":         {"robin", strings.Repeat("ä", 81), Technician, nil, []string{"name"}, nil},
		"two lines":           {"robin", "Robin\nVale", Technician, nil, []string{"name"}, nil},
		"no text":             {"robin", "\xff", Technician, nil, []string{"name"}, nil},
		"everything":          {"", "", "", nil, []string{"login", "name", "role"}, nil},
	} {
		t.Run(name, func(t *testing.T) {
			p, err := NewStaff(c.login, c.name, c.role, c.counties)
			if c.wrong == nil {
				require.NoError(t, err)
				require.Equal(t, "robin", p.Login)
				require.Equal(t, c.kept, p.Counties)
				require.Equal(t, c.role, p.Role)
				return
			}
			var bad *fault.Invalid
			require.True(t, errors.As(err, &bad))
			require.Equal(t, c.wrong, slices.Sorted(maps.Keys(bad.Fields)))
		})
	}
}

func TestDeedsStandOnce(t *testing.T) {
	seen := map[Deed]bool{}
	for _, d := range Deeds {
		require.False(t, seen[d], d)
		seen[d] = true
	}
}

func TestPasswordProblem(t *testing.T) {
	for typed, want := range map[string]string{
		"":                        "length",
		"nine char":               "length",
		strings.Repeat("a", 1025): "length",
		"äöüäöüäö":                "length", // eight characters, sixteen bytes
		"aaaaaaaaaa":              "simple",
		"abcabcabcabc":            "simple",
		"Robin.Vale ":             "login",
		"six miles square":        "",
		"äöüßéèêëñç":              "",
	} {
		require.Equal(t, want, PasswordProblem("robin.vale", typed), typed)
	}
}
