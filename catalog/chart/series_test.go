package chart

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/coords"
	"limbwatch/coords/rotation"
)

var update = flag.Bool("update", false, "remake the golden files")

// golden compares a chart with the one that was looked at and found good.
func golden(t *testing.T, name string, c *canvas.Canvas) {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, c.WriteSVG(&b))
	path := filepath.Join("testdata", name+".svg")
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, b.Bytes(), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), b.String(), "remake with -update when the change is meant, and look at it")
}

func countsOf(first time.Time, counts ...float64) (days []DayCount) {
	for i, c := range counts {
		if c >= 0 {
			days = append(days, DayCount{first.AddDate(0, 0, i), c})
		}
	}
	return days
}

// Blank is not zero: a mean is over the days looked at (TRADE.md, 3.6).
func TestRunningMeanLeavesBlankDaysOut(t *testing.T) {
	first := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	const blank = -1
	days := countsOf(first, 4, blank, 2, 0, blank, blank, blank, blank, blank, blank, 6)
	at := func(i int, width int) (float64, bool) { return runningMean(days, daysOf(first)+float64(i), width) }
	mean, ok := at(1, 3)
	assert.True(t, ok)
	assert.InDelta(t, 3, mean, 1e-12, "of 4 and 2, not of 4, 0 and 2")
	mean, ok = at(2, 3)
	assert.True(t, ok)
	assert.InDelta(t, 1, mean, 1e-12, "a true zero counts")
	_, ok = at(6, 3)
	assert.False(t, ok, "nobody looked")
	_, ok = at(8, 7)
	assert.False(t, ok, "one day in seven is too little")
}

func TestMeanDailyFrequency(t *testing.T) {
	first := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	p := numberPanel{in: NumbersInput{From: first, To: first.AddDate(0, 0, 31)}, series: Series{Days: countsOf(first, 3, -1, 0, 6)}}
	p.x0, p.x1 = daysOf(p.in.From), daysOf(p.in.To)
	assert.Equal(t, "mean daily frequency 3.0, 3 of 31 days", p.meanWords())
	p.series.Days = nil
	assert.Equal(t, "not looked for", p.meanWords())
}

// Misses are counted round the circle: 359° and 1° are 2° apart.
func TestMissAcrossTheSeam(t *testing.T) {
	place := func(l float64) coords.Measured {
		return coords.Measured{Heliographic: coords.Heliographic{L: deg(l)}}
	}
	d := passageDrawing{in: PassageInput{Predicted: []Sight{{UTC: marchDay, Place: place(358)}, {UTC: marchDay.Add(48 * time.Hour), Place: place(2)}}}, origin: deg(359)}
	miss, _ := d.value(missPanel, Sight{UTC: marchDay.Add(24 * time.Hour), Place: place(1.5)})
	assert.InDelta(t, 1.5, miss, 1e-9)
	lon, _ := d.value(longitudePanel, Sight{Place: place(1.5)})
	assert.InDelta(t, 361.5, lon, 1e-9)
	assert.Equal(t, "2°", d.figure(longitudePanel, 362))
	assert.Equal(t, "359°", d.figure(longitudePanel, -1))
	_, known := d.predictedAt(marchDay.Add(-time.Hour))
	assert.False(t, known, "nothing is predicted before the prediction begins")
}

func TestSteps(t *testing.T) {
	assert.Equal(t, []float64{0, 2, 4, 6, 8}, steps(0, 9, 5))
	assert.Equal(t, []float64{-1, -0.5, 0, 0.5, 1}, steps(-1, 1, 4))
	assert.Equal(t, []float64{3}, steps(3, 3, 4))
	assert.Equal(t, []float64{-60, -30, 0, 30, 60}, every(30, -60, 60))
}

func TestWords(t *testing.T) {
	assert.Equal(t, "N14", latitude(deg(14.2), 0))
	assert.Equal(t, "S7.3", latitude(deg(-7.3), 1))
	assert.Equal(t, "0", latitude(deg(-0.2), 0), "nothing has no side")
	assert.Equal(t, "E32", meridianDistance(deg(-32), 0))
	assert.Equal(t, "W5", meridianDistance(deg(5), 0))
	assert.Equal(t, "14 Mar 15h ±5 h", momentWords(Moment{marchDay, 5 * time.Hour}))
	assert.Equal(t, "14 Mar ±1.5 d", momentWords(Moment{marchDay, 36 * time.Hour}))
	assert.Equal(t, "ω = 14.44 ± 0.04 − (2.4 ± 0.3) sin²b", lawWords(rotation.Law{A: 14.44, B: -2.4, SigmaA: 0.04, SigmaB: 0.3}))
}

func TestChartsRefuseNothingToDraw(t *testing.T) {
	_, err := Passage(PassageInput{Name: "P1"}, Options{})
	assert.ErrorContains(t, err, "passage P1: no observed place")
	_, err = Rates(RatesInput{}, Options{})
	assert.ErrorContains(t, err, "no rate and no law")
	for _, draw := range []func() (*canvas.Canvas, error){
		func() (*canvas.Canvas, error) {
			return Numbers(NumbersInput{From: marchDay, To: marchDay}, Options{})
		},
		func() (*canvas.Canvas, error) {
			return Latitudes(LatitudesInput{From: marchDay, To: marchDay.Add(-time.Hour)}, Options{})
		},
		func() (*canvas.Canvas, error) { return Calendar(ComingInput{}, Options{}) },
	} {
		_, err := draw()
		assert.ErrorContains(t, err, "want its end after its start")
	}
	_, err = ParseFormat("gif")
	assert.ErrorContains(t, err, `format "gif": want svg or png`)
}

// Every chart, at every width and in every theme, draws what nobody has filled in yet.
func TestChartsOfNothingStillTell(t *testing.T) {
	from := catalog.DayOf(marchDay)
	for _, width := range []float64{0, 330, 1500} {
		for _, theme := range []Theme{Paper, Day, Night} {
			o := Options{Width: width, Theme: theme}
			for name, draw := range map[string]func() (*canvas.Canvas, error){
				"disc": func() (*canvas.Canvas, error) {
					return Disc(DiscInput{UTC: marchDay, View: someView(coords.North{})}, o)
				},
				"map": func() (*canvas.Canvas, error) { return Map(MapInput{Rotation: 2308}, o) },
				"latitudes": func() (*canvas.Canvas, error) {
					return Latitudes(LatitudesInput{From: from, To: from.AddDate(0, 1, 0)}, o)
				},
				"numbers": func() (*canvas.Canvas, error) {
					return Numbers(NumbersInput{From: from, To: from.AddDate(0, 1, 0), Series: []Series{{Name: "spots"}}}, o)
				},
				"coming": func() (*canvas.Canvas, error) { return Calendar(ComingInput{From: from, To: from.AddDate(0, 1, 0)}, o) },
			} {
				c, err := draw()
				require.NoError(t, err, name)
				assert.NotEmpty(t, c.Title, name)
				assert.NotEmpty(t, c.Description, name)
				var b bytes.Buffer
				require.NoError(t, c.WriteSVG(&b), name)
				assert.NotContains(t, b.String(), "NaN", name)
			}
		}
	}
}

// Longitudes are round figures beside the scale, and from 0° to below 360° everywhere,
// however far the passage has turned.
func TestLongitudesAreRoundAndBelow360(t *testing.T) {
	d := passageDrawing{}
	for v, want := range map[float64]string{12.2: "12.2°", 371.4: "11.4°", -0.2: "359.8°", 359.999: "0°", -720: "0°", 5: "5°"} {
		assert.Equal(t, want, d.figure(longitudePanel, v), "%v", v)
	}
}

func TestGoldenPassage(t *testing.T) {
	place := func(b, l float64) coords.Measured {
		return coords.Measured{Heliographic: coords.Heliographic{B: deg(b), L: deg(l)}, Cov: coords.Covariance{BB: 1e-4, LL: 2e-4}}
	}
	c, err := Passage(PassageInput{
		Name: "P3", Kind: catalog.Sunspot,
		Observed: []Sight{{UTC: marchDay, Place: place(12, 80), Mark: 7}, {UTC: marchDay.Add(24 * time.Hour), Place: place(12.4, 80.3), Mark: 9}},
		Meridian: Moment{marchDay.Add(10 * time.Hour), 2 * time.Hour},
	}, Options{Width: 400, MarkHref: func(id catalog.MarkID) string { return "/mark/" + id.String() }})
	require.NoError(t, err)
	golden(t, "passage", c)
}

func TestGoldenCalendar(t *testing.T) {
	from, odds := catalog.DayOf(marchDay), 0.6
	c, err := Calendar(ComingInput{
		From: from, To: from.AddDate(0, 0, 16), Now: marchDay,
		Items: []Coming{
			{Name: "P3", Kind: catalog.Filament, Lat: deg(-31), East: Moment{from.AddDate(0, 0, 2), 6 * time.Hour}, Meridian: Moment{from.AddDate(0, 0, 9), 8 * time.Hour}, West: Moment{from.AddDate(0, 0, 16), 10 * time.Hour}, Odds: &odds},
			{Name: "long gone", Kind: catalog.Sunspot, East: Moment{from.AddDate(0, 0, -20), time.Hour}},
		},
	}, Options{Width: 480, Theme: Night})
	require.NoError(t, err)
	golden(t, "calendar", c)
}

// A latitude counts beside the panel as much in the south as in the north, also where
// the panel ends within ten degrees.
func TestHistogramHasBothHemispheres(t *testing.T) {
	bars := func(latDeg float64) int {
		e := catalog.Entry{Mark: catalog.Mark{Kind: catalog.Sunspot}, Position: catalog.Position{
			UTC: marchDay, Disc: &catalog.OnDisc{Measured: coords.Measured{Heliographic: coords.Heliographic{B: deg(latDeg)}}}}}
		c, err := Latitudes(LatitudesInput{From: marchDay, To: marchDay.AddDate(0, 0, 2), Entries: []catalog.Entry{e}, Kinds: []catalog.Kind{catalog.Sunspot}}, Options{})
		require.NoError(t, err)
		_, elements := attributesOf(t, c)
		return elements["path"]
	}
	for _, lat := range []float64{5, 25, 41, 44, 55, 70} {
		assert.Equal(t, bars(lat), bars(-lat), "latitude ±%g°", lat)
	}
}
