package gather_test

import (
	"bytes"
	"context"
	"errors"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/chart"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/catalog/gather"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/report"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

var ctx = context.Background()

func deg(d float64) coords.Angle { return coords.Angle(d) * coords.Degree }

// month is a catalogue of nine days in March 2026 on which one spot, one filament and,
// on the first and last day, a prominence were marked without pictures. Nothing was
// marked on the fourth day, on which only spots were looked for.
func month(t *testing.T) (k observe.Keeper, spot catalog.PassageID) {
	t.Helper()
	now := time.Date(2026, 3, 20, 20, 0, 0, 0, time.UTC)
	k, err := observe.Open(ctx, filepath.Join(t.TempDir(), "catalogue.db"), catalog.Terminal, func() time.Time { return now })
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, k.Close()) })
	_, err = k.AddObserver(ctx, catalog.Observer{Name: "R. Vane"})
	require.NoError(t, err)
	_, err = k.AddSite(ctx, catalog.Site{Name: "Yard", LatDeg: 50.1, LonDeg: 14.4, Zone: "Europe/Prague"})
	require.NoError(t, err)
	for day := range 9 {
		at := time.Date(2026, 3, 8+day, 9, 12, 0, 0, time.UTC)
		var marks []catalog.Mark
		place := func(kind catalog.Kind, lat, lon float64) {
			marks = append(marks, catalog.Mark{Kind: kind, Geometry: catalog.Geometry{Shape: catalog.Point, SigmaPlace: deg(0.5),
				Places: []catalog.PlacePoint{{B: deg(lat), Lon: deg(lon)}}}})
		}
		if day != 3 {
			centre := ephemeris.At(time.Date(2026, 3, 12, 9, 12, 0, 0, time.UTC)).L0.Degrees()
			place(catalog.Sunspot, 10, centre)
			place(catalog.Filament, -25, centre-15)
		}
		if day == 0 || day == 8 {
			marks = append(marks, catalog.Mark{Kind: catalog.Prominence, Geometry: catalog.Geometry{Shape: catalog.Point,
				Polar: []catalog.PolarPoint{{PA: deg(62), R: 1.05}}}})
		}
		_, _, err := k.AddMarksAt(ctx, observe.NewInstant{UTC: at}, marks)
		require.NoError(t, err)
	}
	_, err = k.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(t, err)
	entries, err := k.Store.Read(ctx).Entries(store.Query{Kinds: []catalog.Kind{catalog.Sunspot}})
	require.NoError(t, err)
	require.Len(t, entries, 8)
	require.NotNil(t, entries[0].Join)
	return k, entries[0].Join.Passage
}

// What is gathered can be drawn, and is what the catalogue holds.
func TestChartsOfACatalogue(t *testing.T) {
	k, spot := month(t)
	from, to := time.Date(2026, 3, 8, 0, 0, 0, 0, time.UTC), time.Date(2026, 3, 17, 0, 0, 0, 0, time.UTC)

	numbers, err := gather.Numbers(ctx, k, gather.NumbersOptions{Span: gather.Span{From: from, To: to}})
	require.NoError(t, err)
	kinds := map[catalog.Kind]float64{}
	for _, s := range numbers.Series {
		for _, d := range s.Days {
			kinds[s.Kind] += d.Count
		}
	}
	assert.Equal(t, map[catalog.Kind]float64{catalog.Sunspot: 8, catalog.Filament: 8, catalog.Prominence: 2}, kinds)
	open, err := gather.Numbers(ctx, k, gather.NumbersOptions{})
	require.NoError(t, err)
	assert.Equal(t, to, open.To, "a span left open ends with the newest frame's day")
	assert.Equal(t, 31.0, open.To.Sub(open.From).Hours()/24)

	latitudes, err := gather.Latitudes(ctx, k, gather.LatitudesOptions{Span: gather.Span{From: from, To: to}})
	require.NoError(t, err)
	assert.Len(t, latitudes.Entries, 18)

	strip, err := gather.Map(ctx, k, gather.MapOptions{})
	require.NoError(t, err)
	assert.Equal(t, 2308, strip.Rotation, "of the newest frame (rotation 2308 began on 17 February 2026: the Astronomical Almanac's count)")
	assert.Equal(t, "R. Vane · Yard", strip.Heading)

	passage, err := gather.Passage(ctx, k, gather.PassageOptions{Passage: spot})
	require.NoError(t, err)
	require.Len(t, passage.Observed, 8)
	for _, s := range passage.Observed {
		assert.NotZero(t, s.Mark)
		assert.NotZero(t, s.Frame)
	}

	rates, err := gather.Rates(ctx, k, gather.RatesOptions{Kind: catalog.Sunspot})
	require.NoError(t, err)
	require.Len(t, rates.Points, 1)
	assert.Equal(t, spot, rates.Points[0].Passage)
	assert.InDelta(t, ephemeris.CarringtonDegPerDay, rates.Points[0].DegPerDay, 3*rates.Points[0].Sigma, "it kept its Carrington longitude")

	coming, err := gather.Coming(ctx, k, gather.ComingOptions{At: time.Date(2026, 3, 16, 12, 0, 0, 0, time.UTC)})
	require.NoError(t, err)
	require.NotEmpty(t, coming.Items)
	for _, item := range coming.Items {
		assert.NotZero(t, item.Passage, item.Name)
		assert.NotZero(t, item.Mark, item.Name)
		assert.NotEqual(t, catalog.Prominence, item.Kind, "what was seen at the edge alone has no longitude to reckon from")
	}

	for name, draw := range map[string]func(chart.Options) (*canvas.Canvas, error){
		"numbers":   func(o chart.Options) (*canvas.Canvas, error) { return chart.Numbers(numbers, o) },
		"latitudes": func(o chart.Options) (*canvas.Canvas, error) { return chart.Latitudes(latitudes, o) },
		"map":       func(o chart.Options) (*canvas.Canvas, error) { return chart.Map(strip, o) },
		"passage":   func(o chart.Options) (*canvas.Canvas, error) { return chart.Passage(passage, o) },
		"rates":     func(o chart.Options) (*canvas.Canvas, error) { return chart.Rates(rates, o) },
		"coming":    func(o chart.Options) (*canvas.Canvas, error) { return chart.Calendar(coming, o) },
	} {
		c, err := draw(chart.Options{})
		require.NoError(t, err, name)
		var b bytes.Buffer
		require.NoError(t, c.WriteSVG(&b), name)
		assert.Contains(t, b.String(), " data-", name)
	}
}

func TestWhatCannotBeGathered(t *testing.T) {
	k, _ := month(t)
	_, err := gather.Disc(ctx, k, gather.DiscOptions{Frame: 1})
	_, notPlaced := errors.AsType[*gather.NotPlacedError](err)
	assert.True(t, notPlaced, "a frame without a picture has no disc: %v", err)
	_, err = gather.Disc(ctx, k, gather.DiscOptions{Frame: 99})
	assert.ErrorContains(t, err, "F99")
	_, err = gather.Passage(ctx, k, gather.PassageOptions{Passage: 99})
	assert.ErrorContains(t, err, "P99")
}

func TestReportOfACatalogue(t *testing.T) {
	k, _ := month(t)
	var notes []string
	in, err := gather.Report(ctx, k, gather.ReportOptions{
		Period: report.Month(time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)), Note: func(text string) { notes = append(notes, text) },
	})
	require.NoError(t, err)
	assert.Empty(t, notes)
	assert.Len(t, in.Entries, 18)
	assert.Len(t, in.Sittings, 9)
	assert.Equal(t, k.Now(), in.Made)
	nobody, err := gather.Report(ctx, k, gather.ReportOptions{Period: in.Period, Observer: 77})
	require.NoError(t, err)
	assert.Empty(t, nobody.Entries)
}

// When something goes round the west limb is one number, wherever it is printed: in the
// list of what is expected, on the chart of its passage, in the report.
func TestACrossingIsOneTruth(t *testing.T) {
	k, _ := month(t)
	in, err := gather.Report(ctx, k, gather.ReportOptions{Period: report.Month(time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC))})
	require.NoError(t, err)
	expected, err := k.Expect(ctx, time.Date(2026, 3, 16, 12, 0, 0, 0, time.UTC))
	require.NoError(t, err)
	compared := 0
	for _, e := range expected {
		if e.Passage.Kind != catalog.Filament {
			continue
		}
		passage, err := gather.Passage(ctx, k, gather.PassageOptions{Passage: e.Passage.ID})
		require.NoError(t, err)
		assert.WithinDuration(t, e.WestEdge.UTC, passage.West.UTC, 2*time.Minute)
		assert.Equal(t, e.WestEdge.Sigma, passage.West.Sigma)
		for _, entry := range in.Entries {
			if entry.Mark.Kind == catalog.Filament && entry.Join != nil && entry.Join.Passage == e.Passage.ID {
				assert.Equal(t, passage.West, in.Crossings[entry.Mark.ID].West)
				compared++
			}
		}
		assert.Less(t, passage.Meridian.Sigma, e.WestEdge.Sigma, "between sightings it is known better than beyond them")
	}
	assert.Equal(t, 8, compared)
}

func TestKinOfAnEdgeInWords(t *testing.T) {
	k := gather.EdgeKin{Earlier: "2026-fil-3", Later: "2026-fil-16", Odds: 0.59, Together: 0.89}
	assert.Equal(t, "2026-fil-16 may be 2026-fil-3 come back (odds 0.59); together they have 89 %", k.String())
	k.Odds = 1
	assert.Equal(t, "2026-fil-16 is 2026-fil-3 come back, by your word; together they have 89 %", k.String())
}
