package report

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
)

var date = time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC)

// spot is a sunspot's mark on a frame.
func spot(id catalog.MarkID, frame catalog.FrameID, latDeg, lonDeg float64, extent catalog.Extent, spots int) catalog.Entry {
	v := float64(0.2*deg) * float64(0.2*deg)
	return catalog.Entry{
		Mark:  catalog.Mark{ID: id, Frame: frame, Kind: catalog.Sunspot, Extent: extent, Spots: spots},
		Frame: catalog.Frame{ID: frame, Sitting: 1},
		Position: catalog.Position{Mark: id, UTC: date.Add(10 * time.Hour), Disc: &catalog.OnDisc{Measured: coords.Measured{
			Heliographic: coords.Heliographic{B: coords.Angle(latDeg) * deg, L: coords.Angle(lonDeg) * deg}, Cov: coords.Covariance{BB: v, LL: v}}}},
	}
}

// prominence stands on the limb from one position angle to another.
func prominence(id catalog.MarkID, frame catalog.FrameID, fromDeg, toDeg, latDeg float64) catalog.Entry {
	return catalog.Entry{
		Mark: catalog.Mark{ID: id, Frame: frame, Kind: catalog.Prominence}, Frame: catalog.Frame{ID: frame, Sitting: 1},
		Position: catalog.Position{Mark: id, UTC: date.Add(10 * time.Hour), Edge: &catalog.AtEdge{
			From: coords.Angle(fromDeg) * deg, To: coords.Angle(toDeg) * deg, PA: coords.Angle((fromDeg+toDeg)/2) * deg,
			SigmaPA: 0.3 * deg, Lat: coords.Angle(latDeg) * deg}},
	}
}

func oneDay(looked map[catalog.Kind]catalog.Look, entries ...catalog.Entry) Input {
	return Input{Period: Period{From: date, To: date.AddDate(0, 0, 1)}, Entries: entries,
		Sittings: []Sitting{{Sitting: catalog.Sitting{ID: 1, Day: date, Looked: looked}}}}
}

func total(d Day, t catalog.Tally) any {
	n, looked := d.Counts[t]
	switch {
	case !looked:
		return "blank"
	case n.Total == nil:
		return "not to be told"
	}
	return *n.Total
}

// "Zero spots means R = 0 and is an observation; cloud is a blank": the counting rules
// of the World Data Center SILSO and of the British Astronomical Association.
func TestBlankIsNotZero(t *testing.T) {
	d := oneDay(map[catalog.Kind]catalog.Look{catalog.Sunspot: catalog.NoneSeen, catalog.Filament: catalog.LookedFor}).Days()[0]
	assert.Equal(t, 0, total(d, catalog.TallyGroups))
	assert.Equal(t, 0, total(d, catalog.TallyFilaments))
	assert.Equal(t, "blank", total(d, catalog.TallyProminences))
	assert.Equal(t, "blank", total(d, catalog.TallyPlages))
	r, ok := d.RelativeNumber(1)
	assert.True(t, ok)
	assert.Zero(t, r)

	cloud := Input{Period: Period{From: date, To: date.AddDate(0, 0, 1)}}.Days()[0]
	assert.False(t, cloud.Observed())
	_, ok = cloud.RelativeNumber(1)
	assert.False(t, ok)
}

// "A lone spot is a group of one, so the smallest R that is not 0 is 11"; R = k (10 g
// + f); one group of 7 spots and two lone ones: R = 10·3 + 9 (SILSO).
func TestRelativeNumber(t *testing.T) {
	lone := oneDay(nil, spot(1, 1, 10, 20, catalog.SingleSpot, 0)).Days()[0]
	r, ok := lone.RelativeNumber(1)
	require.True(t, ok)
	assert.Equal(t, 11.0, r)

	d := oneDay(nil, spot(1, 1, 10, 20, catalog.SpotGroup, 7), spot(2, 1, -12, 20, catalog.SingleSpot, 0), spot(3, 1, -12, 60, catalog.SingleSpot, 0)).Days()[0]
	r, _ = d.RelativeNumber(1)
	assert.Equal(t, 39.0, r)
	r, _ = d.RelativeNumber(0.6)
	assert.InDelta(t, 23.4, r, 1e-9)
	g := d.Counts[catalog.TallyGroups]
	assert.Equal(t, []int{1, 2}, []int{*g.North, *g.South})
	f := d.Counts[catalog.TallySpots]
	assert.Equal(t, []int{7, 2}, []int{*f.North, *f.South})
}

// Groups are separate when some 10° apart in longitude or 5° in latitude (SILSO's
// help): three single spots in a chain are one group, a fourth beyond it another.
func TestSingleSpotsMakeGroups(t *testing.T) {
	d := oneDay(nil, spot(1, 1, 10, 350, catalog.SingleSpot, 0), spot(2, 1, 11, 6, catalog.SingleSpot, 0),
		spot(3, 1, 12, 358, catalog.SingleSpot, 0), spot(4, 1, 18, 358, catalog.SingleSpot, 0)).Days()[0]
	assert.Equal(t, 2, total(d, catalog.TallyGroups))
	assert.Equal(t, 4, total(d, catalog.TallySpots))

	// The spots of a group that was counted are not counted again.
	d = oneDay(nil, spot(1, 1, 10, 20, catalog.SpotGroup, 7), spot(2, 1, 10, 24, catalog.SingleSpot, 0)).Days()[0]
	assert.Equal(t, 1, total(d, catalog.TallyGroups))
	assert.Equal(t, 7, total(d, catalog.TallySpots))

	// Nobody counted the spots of this one.
	d = oneDay(nil, spot(1, 1, 10, 20, catalog.SpotGroup, 0)).Days()[0]
	assert.Equal(t, 1, total(d, catalog.TallyGroups))
	assert.Equal(t, "not to be told", total(d, catalog.TallySpots))
	_, ok := d.RelativeNumber(1)
	assert.False(t, ok)
}

func TestAThingOnTwoFramesCountsOnce(t *testing.T) {
	in := oneDay(nil, spot(1, 1, 10, 20, catalog.SpotGroup, 7), spot(2, 2, 10.2, 20.1, catalog.SpotGroup, 6), spot(3, 2, -30, 20, catalog.SpotGroup, 1))
	d := in.Days()[0]
	assert.Equal(t, 2, total(d, catalog.TallyGroups))
	assert.Equal(t, 8, total(d, catalog.TallySpots), "the better count of the two")

	// At two sittings of one day too.
	in.Sittings = append(in.Sittings, Sitting{Sitting: catalog.Sitting{ID: 2, Day: date}})
	in.Entries[1].Frame.Sitting = 2
	assert.Equal(t, 2, total(in.Days()[0], catalog.TallyGroups))
}

// A cloud seen from two sides is a filament and a prominence: one of either.
func TestOnePassageSeenAsFilamentAndAsProminence(t *testing.T) {
	f, p := spot(1, 1, 30, 20, 0, 0), prominence(2, 2, 50, 55, 30)
	f.Mark.Kind = catalog.Filament
	f.Join, p.Join = &catalog.Join{Passage: 1, State: catalog.Made}, &catalog.Join{Passage: 1, State: catalog.Made}
	d := oneDay(nil, f, p).Days()[0]
	assert.Equal(t, 1, total(d, catalog.TallyFilaments))
	assert.Equal(t, 1, total(d, catalog.TallyProminences))
	require.Len(t, d.Of(catalog.Prominence), 1)
	assert.NotNil(t, d.Of(catalog.Prominence)[0].Entries[0].Position.Edge)
}

func TestHemispheresAreBlankWhenOneIsNotKnown(t *testing.T) {
	nowhere := spot(2, 1, 0, 0, catalog.SpotGroup, 2)
	nowhere.Position = catalog.Position{Reason: "the frame has no north yet", UTC: date}
	d := oneDay(nil, spot(1, 1, 10, 20, catalog.SpotGroup, 7), nowhere).Days()[0]
	assert.Equal(t, 2, total(d, catalog.TallyGroups))
	assert.Nil(t, d.Counts[catalog.TallyGroups].North)
	assert.Nil(t, d.Counts[catalog.TallyGroups].South)
}

// Places H and separate elements E (the prominence number 10 H + E of observers'
// societies); two that stand on either side of position angle 0 are one place.
func TestPlacesAndElementsOfProminences(t *testing.T) {
	d := oneDay(nil, prominence(1, 1, 356, 359, 60), prominence(2, 1, 1, 4, 60), prominence(3, 1, 80, 85, 10),
		prominence(4, 1, 87, 90, 5), prominence(5, 1, 95, 96, -5), prominence(6, 1, 200, 204, -50)).Days()[0]
	assert.Equal(t, 6, total(d, catalog.TallyElements))
	assert.Equal(t, 4, total(d, catalog.TallyProminences))
	h := d.Counts[catalog.TallyProminences]
	assert.Equal(t, []int{2, 2}, []int{*h.North, *h.South})
}

func TestCountsOnPaperStandInPlaceOfMarks(t *testing.T) {
	in := oneDay(nil, spot(1, 1, 10, 20, catalog.SpotGroup, 7))
	in.Counts = []catalog.Count{{Sitting: 1, Tally: catalog.TallyGroups, North: 2, South: 1, Total: 3, Split: true},
		{Sitting: 1, Tally: catalog.TallySpots, Total: 14}, {Sitting: 1, Tally: catalog.TallyFilaments}, {Sitting: 9, Tally: catalog.TallyPlages, Total: 5}}
	d := in.Days()[0]
	r, ok := d.RelativeNumber(1)
	assert.True(t, ok)
	assert.Equal(t, 44.0, r)
	assert.Nil(t, d.Counts[catalog.TallySpots].North)
	assert.Equal(t, 0, total(d, catalog.TallyFilaments))
	assert.Equal(t, "blank", total(d, catalog.TallyPlages))
}

// The mean daily frequency is the sum of the daily counts over the days observed, not
// over those of the month (British Astronomical Association, Society for Popular
// Astronomy): 3, 0 and 5 on three days of thirty are 2.67.
func TestMeanDailyFrequency(t *testing.T) {
	in := Input{Period: Month(date)}
	for i, n := range []int{3, 0, 5} {
		id := catalog.SittingID(i + 1)
		in.Sittings = append(in.Sittings, Sitting{Sitting: catalog.Sitting{ID: id, Day: date.AddDate(0, 0, i)}})
		in.Counts = append(in.Counts, catalog.Count{Sitting: id, Tally: catalog.TallyProminences, Total: n, South: n, Split: i > 0})
	}
	in.Sittings = append(in.Sittings, Sitting{Sitting: catalog.Sitting{ID: 4, Day: date.AddDate(0, 0, 4)}})
	for _, f := range Frequencies(in.Days(), 1) {
		if f.Name != tallyTitles[catalog.TallyProminences] {
			assert.Zero(t, f.Days, f.Name)
			continue
		}
		assert.Equal(t, 3, f.Days)
		assert.InDelta(t, 8.0/3, f.Mean, 1e-12)
		assert.InDelta(t, 2.5, *f.South, 1e-12, "of the two days on which hemispheres were told apart")
	}
}

// The sums of a year have five figures, and all of them are written.
func TestALargeSumIsWrittenWhole(t *testing.T) {
	in := Input{Period: Month(date), K: 1}
	for i := range 2 {
		id := catalog.SittingID(i + 1)
		in.Sittings = append(in.Sittings, Sitting{Sitting: catalog.Sitting{ID: id, Day: date.AddDate(0, 0, i)}})
		in.Counts = append(in.Counts, catalog.Count{Sitting: id, Tally: catalog.TallySpots, Total: 6172 + i})
	}
	c := composer{Input: in, days: in.Days()}
	rows := c.summary().Blocks[0].Table.Rows
	at := slices.IndexFunc(rows, func(r Row) bool { return r.Cells[0] == tallyTitles[catalog.TallySpots] })
	assert.Equal(t, "12345", rows[at].Cells[2])
	assert.Equal(t, "73.8", sumText(0.6*123))
}

// A sitting that runs over 0h UT is of the day on which it began.
func TestASittingOverMidnightStaysOneDay(t *testing.T) {
	late := spot(1, 1, 10, 20, catalog.SpotGroup, 7)
	late.Position.UTC = date.Add(25 * time.Hour)
	in := oneDay(nil, late)
	in.Period.To = date.AddDate(0, 0, 2)
	days := in.Days()
	assert.Equal(t, 1, total(days[0], catalog.TallyGroups))
	assert.Equal(t, "blank", total(days[1], catalog.TallyGroups))
}

func TestPeriods(t *testing.T) {
	assert.Equal(t, "March 2026", Month(date).String())
	assert.Equal(t, 31, Month(date).Days())
	assert.Equal(t, 28, Month(date.AddDate(0, -1, 0)).Days())
	// Carrington rotation 2309 began on 2026 March 19.38 (the Astronomical Almanac's
	// list of rotations, from memory): its days are 19 March to 15 April.
	r := Rotation(2309)
	assert.Equal(t, "2026-03-19 2026-04-16", r.From.Format(time.DateOnly)+" "+r.To.Format(time.DateOnly))
	assert.Equal(t, "Carrington rotation 2309", r.String())
	assert.Equal(t, "14 to 20 March 2026", Period{From: date, To: date.AddDate(0, 0, 7)}.String())
	assert.Equal(t, "14 March to 2 April 2026", Period{From: date, To: date.AddDate(0, 0, 20)}.String())
}
