package north

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
)

func TestContradictionsAreCalledByTheirName(t *testing.T) {
	said := func(deg, sigma float64, mirrored bool) coords.North {
		return coords.North{Angle: coords.Angle(deg) * coords.Degree, Sigma: coords.Angle(sigma) * coords.Degree, Mirrored: mirrored}
	}
	found := said(40, 0.3, false)
	for _, c := range []struct {
		said coords.North
		want Contradiction
	}{
		{said(40.9, 0.3, false), Agrees}, // 0.9 is 2.1 of 0.42
		{said(41.4, 0.3, false), Off},    // 1.4 is 3.3 of 0.42
		{said(44, 1.5, false), Agrees},
		{said(-140, 0.3, false), HalfTurned},
		{said(-133, 0.3, false), HalfTurned},
		{said(-100, 0.3, false), Off},
		{said(41, 0.3, true), EastWest},
		{said(-139, 0.3, true), NorthSouth},
		{said(120, 0.3, true), OtherWay},
	} {
		assert.Equal(t, c.want, Contradicts(c.said, found), "%+v", c.said)
	}
}

// Truth: the pictures have solar north up (README beside them); one of them, or both, is
// said to lie otherwise.
func TestARealPictureTellsWhatItsNeighbourGotWrong(t *testing.T) {
	t.Parallel()
	frames := whiteLightFrames()
	a, b := frames[0], frames[1]
	truth := coords.North{Angle: b.north().Angle, Sigma: 0.3 * coords.Degree}
	half := coords.Angle(180) * coords.Degree
	for name, c := range map[string]struct {
		theirs coords.North // as is said of the neighbour
		wrong  Contradiction
		ours   coords.North
		want   Contradiction
	}{
		"both right":                      {a.north(), Agrees, truth, Agrees},
		"ours half turned":                {a.north(), Agrees, coords.North{Angle: truth.Angle + half, Sigma: truth.Sigma}, HalfTurned},
		"ours with east and west changed": {a.north(), Agrees, Wrongly(truth, EastWest), EastWest},
		"ours off by 3 degrees":           {a.north(), Agrees, coords.North{Angle: truth.Angle + 3*coords.Degree, Sigma: truth.Sigma}, Off},
		"theirs half turned":              {coords.North{Angle: a.north().Angle + half}, EastWest, truth, NorthSouth},
	} {
		t.Run(name, func(t *testing.T) {
			theirs := c.theirs
			theirs.Sigma = 0.3 * coords.Degree
			told, err := ToldByPicture(
				Oriented{Picture: a.open(t), UTC: a.utc, View: disc.View{Limb: a.limb, Face: ephemeris.At(a.utc), North: theirs}},
				Unoriented{Picture: b.open(t), Limb: b.limb, UTC: b.utc}, MatchOptions{})
			require.NoError(t, err)
			assert.Equal(t, c.wrong, told.Theirs)
			assert.Equal(t, c.want, Contradicts(c.ours, told.Found), "%+v against %+v", c.ours, told.Found)
		})
	}
}
