package main

import (
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
		{"behind the Sun", []string{"sunspot", "--place", "N08E140"}},
	} {
		args := append([]string{"mark", "add"}, append(c.args, "--at", slipAt)...)
		got := refused(t, exitMisused, c.says, args...)
		assert.Contains(t, got.stderr, "--force")
		kept := limbwatch(t, "", append(args, "--force")...)
		require.Equal(t, exitDone, kept.code, kept.stderr)
	}
	assert.Len(t, asJSON[[]object](t, "log"), 3, "what is meant is kept")
	done(t, "mark", "edit", "M3", "--note", "far side")
	// Central meridian distance 180°: behind the Sun by any tilt.
	l0 := asJSON[object](t, "sun", "--at", slipAt).number(t, "l0_deg")
	hidden := limbwatch(t, "", "mark", "add", "sunspot", "--at", slipAt, "--lat", "8", "--carrington", machineNumber(l0+180))
	require.Equal(t, exitDone, hidden.code, hidden.stderr)
	assert.Contains(t, hidden.stderr, "lay behind the Sun at that time")
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
	assert.Contains(t, got.stderr, "mark edit M1 --kind prominence")
	done(t, "edge", "--at", slipAt, "--pa", "280", "--height", "2000")
	refused(t, exitMisused, "want 0 to 2000", "edge", "--at", slipAt, "--pa", "280", "--height", "2001")
	refused(t, exitMisused, "--max-sigma goes with --from", "north", "match", "F1", "--all-marks", "--max-sigma", "1")
	refused(t, exitMisused, "want --from, --marks or --all-marks", "north", "match", "F1")
}
