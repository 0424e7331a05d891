package catalog

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Blank when the hemisphere is unknown: north and south then need not make the
// total (the monthly forms of observers' societies).
func TestCountsAsOnPaper(t *testing.T) {
	for text, want := range map[string]Count{
		"N2,S1":   {North: 2, South: 1, Total: 3, Split: true},
		" n2, s0": {North: 2, Total: 2, Split: true},
		"S3":      {South: 3, Total: 3, Split: true},
		"4":       {Total: 4},
		"N2,S1,4": {North: 2, South: 1, Total: 7, Split: true},
		"0":       {},
	} {
		want.Tally = TallyGroups
		got, err := ParseCount(TallyGroups, text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
		again, err := ParseCount(TallyGroups, got.String())
		require.NoError(t, err)
		assert.Equal(t, got, again, text)
		got.Sitting = 1
		assert.NoError(t, got.Validate(), text)
	}
	for _, text := range []string{"", "N", "N2,N1", "N-2", "+3", "2.5", "N2;S1", "three", "N2,S1,", "1,2"} {
		_, err := ParseCount(TallySpots, text)
		assert.ErrorContains(t, err, "want N2,S1", "%q", text)
	}
}

func TestCountsThatCannotBe(t *testing.T) {
	for what, c := range map[string]Count{
		"no sitting":        {Tally: TallySpots},
		"of nothing":        {Sitting: 1},
		"less than halves":  {Sitting: 1, Tally: TallySpots, Split: true, North: 2, South: 2, Total: 3},
		"halves not told":   {Sitting: 1, Tally: TallySpots, North: 2, Total: 2},
		"more than the Sun": {Sitting: 1, Tally: TallySpots, Total: 20_000},
	} {
		assert.Error(t, c.Validate(), what)
	}
	for _, tally := range Tallies {
		parsed, err := ParseTally(tally.String())
		require.NoError(t, err)
		assert.Equal(t, tally, parsed)
	}
}
