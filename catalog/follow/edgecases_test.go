package follow

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// passageOf follows sightings that are one feature.
func passageOf(t *testing.T, name string, sightings ...Sighting) Passage {
	t.Helper()
	for i := range sightings {
		sightings[i].Pinned = name
	}
	r, err := Follow(t.Context(), sightings, Options{})
	require.NoError(t, err)
	require.Len(t, r.Passages, 1)
	return r.Passages[0]
}

// limbPA is the position angle of the limb at a latitude: cos(P − θ) = sin B / cos B0.
func limbPA(utc time.Time, latDeg float64, east bool) coords.Angle {
	face := ephemeris.At(utc)
	turn := coords.Acos(degrees(latDeg).Sin() / face.B0.Cos())
	if east {
		return (face.P + turn).Wrap360()
	}
	return (face.P - turn).Wrap360()
}

// Worked example of a crossing, computed outside the project: 2024-03-10 12 UT (L0 32.20,
// B0 −7.23), filament at +35, W40. Limb CMD 84.90; west limb 14 Mar 00:11 by
// d'Azambuja's law; at 26 Mm above the photosphere a window of 18.9° = 1.44 days.
func TestEdgePassageAgreesWithWorkedExample(t *testing.T) {
	seen := time.Date(2024, 3, 10, 12, 0, 0, 0, time.UTC)
	l := (ephemeris.At(seen).L0.Degrees() + 40)
	p := passageOf(t, "F1", at(catalog.Filament, seen, 35, l, 0.5))
	when := time.Date(2024, 3, 14, 0, 0, 0, 0, time.UTC)
	got, err := CheckEdge(AtEdge{UTC: when, PA: limbPA(when, 35, false), SigmaPA: coords.Degree, TopMm: 26, SigmaTopMm: 4}, []Passage{p}, EdgeOptions{})
	require.NoError(t, err)
	require.Len(t, got.Candidates, 1)
	c := got.Candidates[0]
	assert.False(t, got.East)
	assert.InDelta(t, 35, got.Lat.Degrees(), 0.3)
	assert.InDelta(t, 0, c.LimbPassage.Sub(time.Date(2024, 3, 14, 0, 11, 0, 0, time.UTC)).Hours(), 0.7, "passes the limb %v", c.LimbPassage)
	assert.InDelta(t, 18.9, c.Window.Degrees(), 0.2, "window in longitude")
	assert.InDelta(t, 2*1.44, c.To.Sub(c.From).Hours()/24, 0.1, "window in days, there at 13.2° a day; so far north it is 12.8")
	assert.Equal(t, JustCrossed, c.Way)
	assert.Contains(t, []Likelihood{Possible, Likely}, got.Word)
	assert.Greater(t, c.Probability, 0.6)
	assert.InDelta(t, 1, c.Probability+got.None, 1e-9)
}

// Published: 2015 Mar 26 23:13 UT, a prominence at the north-east limb, N13 to N34,
// identified with a foot at +23, L 287, where the limb was said to stand at L 289
// (Roberts); computed apart L 285.6 at latitude 23.
func TestEdgeReadsThePublishedLimb(t *testing.T) {
	when := time.Date(2015, 3, 26, 23, 13, 0, 0, time.UTC)
	got, err := CheckEdge(AtEdge{UTC: when, PA: limbPA(when, 23, true), SigmaPA: coords.Degree, Width: 21 * coords.Degree, TopMm: 87}, nil, EdgeOptions{})
	require.NoError(t, err)
	assert.True(t, got.East)
	assert.InDelta(t, 23, got.Lat.Degrees(), 0.3)
	assert.InDelta(t, 285.6, got.LimbL.Degrees(), 0.5)
	assert.Equal(t, CannotSay, got.Word)
	assert.InDelta(t, 1, got.None, 1e-12)
	require.NotEmpty(t, got.Looks, "a look is proposed")
	look := got.Looks[0]
	days := look.UTC.Sub(when).Hours() / 24
	assert.InDelta(t, insideDeg/13.2, days, 0.15, "the filament comes 1 to 3 days after its prominence")
	assert.InDelta(t, 23, look.Lat.Degrees(), 0.1)
	assert.Greater(t, look.R, 0.85)
	assert.Less(t, look.R, 1.0)
}

func TestEdgeTellsTheWaysToTheEdge(t *testing.T) {
	when := time.Date(2024, 6, 20, 9, 0, 0, 0, time.UTC)
	mark := func(days, cmdThen float64) Sighting {
		utc := when.Add(time.Duration(days * 24 * float64(time.Hour)))
		return at(catalog.Filament, utc, 20, ephemeris.At(utc).L0.Degrees()+cmdThen, 0.7)
	}
	for name, c := range map[string]struct {
		east      bool
		sightings []Sighting
		way       EdgeWay
	}{
		"it crossed before": {false, []Sighting{mark(-3, 50), mark(-2, 63)}, JustCrossed},
		"it came on after":  {true, []Sighting{mark(2, -63), mark(3, -50)}, CameOn},
		// TRADE practice: west edge to east edge takes 13 to 14 days near the equator.
		"it returned": {true, []Sighting{mark(-15.5, 63), mark(-14.5, 76)}, Returned},
	} {
		t.Run(name, func(t *testing.T) {
			p := passageOf(t, "F1", c.sightings...)
			got, err := CheckEdge(AtEdge{UTC: when, PA: limbPA(when, 20, c.east), SigmaPA: coords.Degree, TopMm: 30, SigmaTopMm: 5, Limb: coords.Chromosphere}, []Passage{p}, EdgeOptions{})
			require.NoError(t, err)
			require.NotEmpty(t, got.Candidates)
			assert.Equal(t, c.way, got.Candidates[0].Way)
			assert.Less(t, got.Candidates[0].MissSigma, 1.5)
			assert.Greater(t, got.Candidates[0].Probability, 0.1)
			assert.NotEmpty(t, got.Reason)
			t.Logf("%v %.2f: %s", got.Word, got.Candidates[0].Probability, got.Reason)
		})
	}
}

func TestEdgeRefusesTheWrongLatitudeAndTheOtherSide(t *testing.T) {
	when := time.Date(2024, 6, 20, 9, 0, 0, 0, time.UTC)
	utc := when.Add(-48 * time.Hour)
	l := ephemeris.At(utc).L0.Degrees() + 62
	south := passageOf(t, "F1", at(catalog.Filament, utc, -20, l, 0.7))
	spots := passageOf(t, "F2", at(catalog.Sunspot, utc, 20, l, 0.7))
	prominence := AtEdge{UTC: when, PA: limbPA(when, 20, false), SigmaPA: coords.Degree, TopMm: 30, SigmaTopMm: 5}
	got, err := CheckEdge(prominence, []Passage{south, spots}, EdgeOptions{})
	require.NoError(t, err)
	assert.Greater(t, got.None, 0.99, "a filament of the other hemisphere, and spots, are no candidates")
	for _, c := range got.Candidates {
		assert.Equal(t, Unlikely, c.Word)
	}
	again, err := CheckEdge(prominence, []Passage{south, spots}, EdgeOptions{})
	require.NoError(t, err)
	assert.Equal(t, got, again, "the same question has the same answer")
	for name, bad := range map[string]AtEdge{
		"no time":      {PA: 1},
		"no angle":     {UTC: when, PA: coords.Angle(math.NaN())},
		"wild error":   {UTC: when, SigmaPA: 60 * coords.Degree},
		"below ground": {UTC: when, TopMm: -5},
	} {
		_, err := CheckEdge(bad, nil, EdgeOptions{})
		assert.Error(t, err, name)
	}
}

// A tall cloud whose foot is hidden is its filament's all the same; a low one is not.
func TestEdgeHeightWidensTheWindow(t *testing.T) {
	when := time.Date(2024, 6, 20, 9, 0, 0, 0, time.UTC)
	utc := when.Add(-72 * time.Hour)
	// It passed the limb 14° of longitude ago; hidden up to 9.7° when 10 Mm high, 19° when 40.
	l := ephemeris.At(when).L0.Degrees() + 90 + 14
	p := passageOf(t, "F1", at(catalog.Filament, utc, 3, l, 0.5))
	share := func(top float64) float64 {
		got, err := CheckEdge(AtEdge{UTC: when, PA: limbPA(when, 3, false), SigmaPA: coords.Degree, TopMm: top, SigmaTopMm: 2},
			[]Passage{p}, EdgeOptions{Heights: []coords.Layer{{HeightMm: top + 20, SigmaMm: 4}}})
		require.NoError(t, err)
		if len(got.Candidates) == 0 {
			return 0
		}
		return got.Candidates[0].Probability
	}
	tall := share(25)
	assert.Greater(t, tall, 0.5)
	low, err := CheckEdge(AtEdge{UTC: when, PA: limbPA(when, 3, false), SigmaPA: coords.Degree, TopMm: 8, SigmaTopMm: 2},
		[]Passage{p}, EdgeOptions{Heights: []coords.Layer{{HeightMm: 7, SigmaMm: 1}}})
	require.NoError(t, err)
	assert.Less(t, low.Candidates[0].Probability, tall-0.2)
}

// A filament that stands before the west limb yet can be looked at where it is foretold;
// one that is long behind it cannot.
func TestEdgeLooksAtWhatIsStillOnTheDisc(t *testing.T) {
	when := time.Date(2024, 6, 20, 9, 0, 0, 0, time.UTC)
	looks := func(cmdThen float64, until time.Duration) []EdgeLook {
		utc := when.Add(-48 * time.Hour)
		p := passageOf(t, "F1", at(catalog.Filament, utc, 20, ephemeris.At(utc).L0.Degrees()+cmdThen, 0.7))
		got, err := CheckEdge(AtEdge{UTC: when, PA: limbPA(when, 20, false), SigmaPA: coords.Degree, TopMm: 40, SigmaTopMm: 5, Limb: coords.Chromosphere},
			[]Passage{p}, EdgeOptions{Until: when.Add(until)})
		require.NoError(t, err)
		return got.Looks
	}
	before := looks(52, 90*time.Minute)
	require.NotEmpty(t, before)
	assert.Equal(t, time.Date(2024, 6, 20, 11, 0, 0, 0, time.UTC), before[0].UTC, "the next full hour")
	// 52° two days ago; at 13.2° a day it stands 2.08 days later at 79.5°.
	assert.InDelta(t, 79.5, before[0].CMD.Degrees(), 0.8)
	assert.InDelta(t, 20, before[0].Lat.Degrees(), 0.1)
	for _, l := range looks(66, 90*time.Minute) {
		assert.Greater(t, l.UTC.Sub(when).Hours(), 10*24.0, "behind the limb nothing is seen before it returns")
	}
	for days := range 60 {
		if days > 0 {
			for _, l := range looks(52, time.Duration(days)*24*time.Hour) {
				assert.NotContains(t, l.Why, "before the limb", "asked %d days later, when it has gone round", days)
			}
		}
	}
}

// TestTheReasonSaysWhyAFilamentIsSeen: a long filament whose middle stands far before the
// limb is likely by its end, and the reason must not say that none so far is seen.
func TestTheReasonSaysWhyAFilamentIsSeen(t *testing.T) {
	when := time.Date(2024, 3, 14, 0, 0, 0, 0, time.UTC)
	const lat = 30.0
	// middle is how far before the limb its middle stands, reach how far west of that it
	// was drawn.
	check := func(middle, reach float64) Edge {
		var seen []Sighting
		for _, days := range []float64{-3, -2, -1} {
			utc := when.Add(time.Duration(days * 24 * float64(time.Hour)))
			law := assumed(nil)[cloud][loose].law
			lon := ephemeris.At(when).L0.Degrees() + 85 - middle + days*driftDegPerDay(law, lat)
			s := at(catalog.Filament, utc, lat, lon, 0.5)
			if reach > 0 {
				for k := range 7 {
					s.Shape = append(s.Shape, coords.Heliographic{B: degrees(lat), L: degrees(lon + reach*(float64(k)/3-1)).Wrap360()})
				}
			}
			seen = append(seen, s)
		}
		p := passageOf(t, "F1", seen...)
		got, err := CheckEdge(AtEdge{UTC: when, PA: limbPA(when, lat, false), SigmaPA: coords.Degree, TopMm: 26, SigmaTopMm: 4}, []Passage{p}, EdgeOptions{})
		require.NoError(t, err)
		t.Logf("middle %g° before, reach %g°: %v: %s", middle, reach, got.Word, got.Reason)
		return got
	}
	near := check(5, 0)
	assert.Equal(t, ByItsMiddle, near.Candidates[0].Stands)
	assert.Contains(t, near.Reason, "and a cloud so high is seen within")
	long := check(28, 24)
	assert.Equal(t, Likely, long.Word)
	assert.Equal(t, ByAnEnd, long.Candidates[0].Stands)
	assert.InDelta(t, 4, long.Candidates[0].Nearest.Abs().Degrees(), 2.5, "its western end")
	assert.Contains(t, long.Reason, "but the filament reached to within")
	far := check(50, 3)
	assert.Equal(t, Unlikely, far.Word)
	assert.Equal(t, DoesNotStand, far.Candidates[0].Stands)
	assert.Contains(t, far.Reason, "too far")
}
