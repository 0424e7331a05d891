package main

import (
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const slipAt = "2026-03-14T12:00:00Z"

func TestFiguresThatCannotBeMeantAreRefused(t *testing.T) {
	newCatalogue(t)
	for _, c := range []struct {
		says string
		args []string
	}{
		{"nothing is seen beyond 2.5", []string{"prominence", "--pa", "40", "--r", "9"}},
		{"lies inside the limb", []string{"prominence", "--pa", "40", "--r", "0.5"}},
		{"lies inside the limb", []string{"prominence", "--place", "N08E14"}},
		{"none is seen off the disc", []string{"sunspot", "--pa", "40", "--r", "1.5"}},
	} {
		args := append([]string{"mark", "add"}, append(c.args, "--at", slipAt)...)
		got := refused(t, exitMisused, c.says, args...)
		assert.Contains(t, got.stderr, "--force")
		kept := limbwatch(t, "", append(args, "--force")...)
		require.Equal(t, exitDone, kept.code, kept.stderr)
	}
	assert.Len(t, asJSON[[]object](t, "log"), 4, "what is meant is kept")
	done(t, "mark", "edit", "M3", "--note", "far side")
	done(t, "mark", "add", "sunspot", "--at", slipAt, "--place", "N08E14")
	refused(t, exitMisused, "lies inside the limb", "mark", "edit", "M5", "--as", "prominence")
	// Behind the Sun, by its distance from the meridian and by longitude: told and kept.
	l0 := asJSON[object](t, "sun", "--at", slipAt).number(t, "l0_deg")
	for _, place := range [][]string{{"--place", "N08E140"}, {"--lat", "8", "--carrington", machineNumber(l0 + 180)}} {
		hidden := limbwatch(t, "", append([]string{"mark", "add", "sunspot", "--at", slipAt}, place...)...)
		require.Equal(t, exitDone, hidden.code, hidden.stderr)
		assert.Contains(t, hidden.stderr, "lay behind the Sun at that time")
	}
}

// Old groups that were imported without saying so, put right at once.
func TestSlipsInARecordAreRefused(t *testing.T) {
	newCatalogue(t)
	done(t, "mark", "add", "prominence", "--pa", "40", "--r", "0.5", "--at", slipAt, "--force")
	done(t, "mark", "add", "sunspot", "--place", "N08E140", "--at", slipAt)
	folder := t.TempDir()
	file := filepath.Join(folder, "slips.jsonl")
	done(t, "export", "record", file)
	other := []string{"--catalogue", filepath.Join(folder, "other.db"), "import", "record", file}
	for _, how := range [][]string{{}, {"--dry-run"}} {
		got := refused(t, exitFailed, "looks like a slip", append(slices.Clone(other), how...)...)
		assert.Contains(t, got.stderr, "lies inside the limb")
		assert.Contains(t, got.stderr, "--force")
	}
	kept := limbwatch(t, "", append(other, "--force")...)
	require.Equal(t, exitDone, kept.code, kept.stderr)
	assert.Contains(t, kept.stderr, "note: sunspot of 2026-03-14 12:00:00 UTC")
	assert.Contains(t, kept.stderr, "lay behind the Sun")
}

func TestManyMarksAreEditedAtOnce(t *testing.T) {
	newCatalogue(t)
	for _, at := range []string{"2026-03-13T12:00:00Z", slipAt, "2026-03-15T12:00:00Z"} {
		for _, kind := range []string{"sunspot", "plage"} {
			done(t, "mark", "add", kind, "--at", at, "--place", "N08E14", "--sigma-deg", "0.5")
		}
	}
	groups := func() (all []string) {
		for _, row := range asJSON[[]object](t, "log") {
			if row["extent"] == "group" {
				all = append(all, row.text(t, "mark"))
			}
		}
		return all
	}
	refused(t, exitMisused, "no mark is named", "mark", "edit", "--group")
	refused(t, exitMisused, "nothing to change", "mark", "edit", "M1-M6", "--kind", "sunspot")
	refused(t, exitMisused, "--place is for one mark", "mark", "edit", "M1-M6", "--place", "N01E01")
	refused(t, exitMisused, "M2: plage with a count of spots", "mark", "edit", "M1-M6", "--group")
	refused(t, exitMisused, "want the lower number first", "mark", "edit", "M6-M1", "--group")
	refused(t, exitFailed, "no mark M9 to M12", "mark", "edit", "M9-M12", "--group")
	refused(t, exitFailed, "no mark is chosen", "mark", "edit", "M1-M6", "--kind", "filament", "--note", "x")
	assert.Contains(t, done(t, "mark", "edit", "M1-M6", "--kind", "sunspot", "--group", "--dry-run"), "3 of 3 marks changed: M1, M3, M5\ndry run: nothing was changed")
	assert.Empty(t, groups())
	assert.Contains(t, done(t, "mark", "edit", "M1-M99", "--kind", "sunspot", "--group"), "3 of 3 marks changed")
	assert.Equal(t, []string{"M1", "M3", "M5"}, groups())
	assert.Contains(t, done(t, "undo"), "mark edit 3 marks, M1 to M5")
	assert.Empty(t, groups(), "one undo takes the whole back")
	done(t, "mark", "edit", "--kind", "sunspot", "--from", "2026-03-14", "--to", "2026-03-14", "--group")
	assert.Equal(t, []string{"M3"}, groups(), "by day")
	done(t, "mark", "edit", "M1,M3", "M5", "--group", "--spots", "4")
	assert.Equal(t, []string{"M1", "M3", "M5"}, groups(), "as a list")
	row := asJSON[object](t, "mark", "edit", "M1-M6", "--note", "copied", "--json")
	assert.Equal(t, 6.0, row["changed"])
	row = asJSON[object](t, "mark", "edit", "M1-M6", "--note", "copied", "--json")
	assert.Equal(t, 0.0, row["changed"], "what stands so already is no change")
	done(t, "mark", "remove", "M2-M4", "M6")
	assert.Len(t, asJSON[[]object](t, "log"), 2)
}

func TestSeveralMarksGoAndComeBackAtOnce(t *testing.T) {
	newCatalogue(t)
	for _, place := range []string{"N08E14", "S12W30", "N20E50"} {
		done(t, "mark", "add", "sunspot", "--at", slipAt, "--place", place, "--sigma-deg", "0.5")
	}
	done(t, "mark", "edit", "M2", "--same-as", "M1")
	done(t, "mark", "remove", "M1", "M2", "M3")
	assert.Empty(t, asJSON[[]object](t, "log"))
	done(t, "undo")
	assert.Len(t, asJSON[[]object](t, "log"), 3, "one undo")
	done(t, "track", "follow")
	done(t, "track", "refuse", "M1", "M3")
	rows := asJSON[[]object](t, "track", "list")
	require.Len(t, rows, 1)
	assert.InDelta(t, 0.5, rows[0].number(t, "sigma_lat_deg"), 1e-6)
	assert.Equal(t, slipAt, rows[0].text(t, "place_utc"))
	assert.Contains(t, done(t, "track", "list"), "S12.0 ± 0.5°")
	done(t, "undo")
	assert.Len(t, asJSON[[]object](t, "track", "list"), 3)
}

func TestEdgeOfWhatIsNoProminence(t *testing.T) {
	newCatalogue(t)
	done(t, "mark", "add", "filament", "--at", slipAt, "--place", "N20W80")
	got := refused(t, exitFailed, "it is marked as a filament", "edge", "M1")
	assert.Contains(t, got.stderr, "mark edit M1 --as prominence")
	done(t, "edge", "--at", slipAt, "--pa", "280", "--height", "2000")
	refused(t, exitMisused, "want 0 to 2000", "edge", "--at", slipAt, "--pa", "280", "--height", "2001")
	refused(t, exitMisused, "--max-sigma goes with --from", "north", "match", "F1", "--all-marks", "--max-sigma", "1")
	refused(t, exitMisused, "want --from, --marks or --all-marks", "north", "match", "F1")
}
