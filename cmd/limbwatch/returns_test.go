package main

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The story of a passage tells what it came back as, and the observer's word of it.
func TestAReturnIsToldAndSaid(t *testing.T) {
	folder := newCatalogue(t)
	csv := "kind,utc,lat_deg,lon_deg,sigma_deg\n"
	for day := range 5 {
		at := time.Date(2026, 3, 10+day, 12, 0, 0, 0, time.UTC)
		csv += fmt.Sprintf("plage,%s,12,120,0.3\nplage,%s,12,121,0.3\n", at.Format(time.RFC3339), at.AddDate(0, 0, 27).Format(time.RFC3339))
	}
	file := folder + "/plages.csv"
	require.NoError(t, os.WriteFile(file, []byte(csv), 0o644))
	done(t, "import", "positions", file)
	done(t, "track", "follow")
	first := asJSON[[]object](t, "track", "list")[0].text(t, "passage")
	rows := asJSON[[]object](t, "track", "returns")
	require.Len(t, rows, 1)
	require.Equal(t, first, rows[0].text(t, "earlier"))
	later := rows[0].text(t, "later")
	for _, name := range []string{first, later} {
		assert.Regexp(t, later+` (is|may be) `+first+` come back \(odds 0\.\d\d\)`, done(t, "track", "show", name))
	}

	assert.Equal(t, later+" is not "+first+" come back, by your word\n", done(t, "track", "returns", first, later, "--refuse"))
	assert.Contains(t, done(t, "track", "returns"), "refused by your word")
	assert.Equal(t, later+" is "+first+" come back, by your word\n", done(t, "track", "returns", first, later, "--accept"))
	links := asJSON[object](t, "track", "show", later)["links"].([]any)
	require.Len(t, links, 1)
	link := object(links[0].(map[string]any))
	assert.Equal(t, "return", link.text(t, "relation"))
	assert.Equal(t, "observer", link.text(t, "said_by"))
	assert.Equal(t, "made", link.text(t, "state"))
	assert.Contains(t, done(t, "undo"), later+" is "+first+" come back")

	refused(t, exitFailed, "must have been seen later", "track", "returns", later, first, "--accept")
	refused(t, exitMisused, "not what to say of them", "track", "returns", first, later)
	refused(t, exitMisused, "want [EARLIER LATER]", "track", "returns", first)
	got := refused(t, exitMisused, "go with two passages", "track", "returns", "--accept")
	assert.True(t, strings.Contains(got.stderr, "hint: name the earlier"))
}

func TestALawIsNamedOrTyped(t *testing.T) {
	newCatalogue(t)
	done(t, "mark", "add", "sunspot", "--at", slipAt, "--place", "N08E14")
	for _, law := range []string{"newton-nunn", "14.38,-2.96", "rigid", "filament"} {
		done(t, "track", "follow", "--all", "--law", law, "--dry-run")
	}
	refused(t, exitMisused, `rotation law "nosuch": want A,B,C in degrees a day or one of carrington, newton-nunn`, "track", "follow", "--law", "nosuch")
	refused(t, exitMisused, "sidereal rates lie in", "track", "follow", "--law", "2.9")
}
