package chart

import (
	"fmt"
	"image"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/rotation"
)

// reader is a pen that notes what is drawn where.
type reader struct {
	words   []string
	boxes   []canvas.Rect
	circles []canvas.Point
	paths   [][]canvas.Point
}

func (r *reader) Path(lines [][]canvas.Point, _ bool, _ canvas.Style) {
	r.paths = append(r.paths, lines...)
}
func (r *reader) Circle(at canvas.Point, _ float64, _ canvas.Style) {
	r.circles = append(r.circles, at)
}
func (r *reader) Picture(canvas.Rect, image.Image, bool) {}
func (r *reader) Begin(canvas.Group)                     {}
func (r *reader) End()                                   {}
func (r *reader) Text(at canvas.Point, text string, t canvas.Type) {
	if t.TurnDeg == 0 {
		r.words, r.boxes = append(r.words, text), append(r.boxes, canvas.TextBox(at.X, at.Y, text, t))
	}
}

func read(c *canvas.Canvas) *reader {
	r := &reader{}
	c.Draw(r)
	return r
}

// paintedMonth is a month with gaps on an invented Sun, marked but not painted.
func paintedMonth(t *testing.T) (looks []Look, entries []catalog.Entry) {
	start := ephemeris.RotationStart(2308).Add(-4 * 24 * time.Hour)
	sun := paintedSun(start, 36)
	for d := range 35 {
		if d%7 == 3 || d > 14 && d < 19 {
			continue
		}
		day := paintedAt(t, sun, start.Add(time.Duration(d)*24*time.Hour), 1000, 450, false)
		looks = append(looks, Look{Frame: day.entries[0].Frame.ID, UTC: day.utc, View: &day.view})
		entries = append(entries, day.entries...)
	}
	return looks, entries
}

// allCharts are all charts of the month.
func allCharts(t *testing.T) map[string]func(Options) (*canvas.Canvas, error) {
	looks, entries := paintedMonth(t)
	from := catalog.DayOf(looks[0].UTC)
	to := from.AddDate(0, 0, 36)
	looked := map[catalog.Kind][]time.Time{}
	var counts []DayCount
	for i, l := range looks {
		for _, k := range catalog.Kinds {
			looked[k] = append(looked[k], l.UTC)
		}
		counts = append(counts, DayCount{catalog.DayOf(l.UTC), float64(i % 6)})
	}
	last := looks[len(looks)-1]
	var ofDay []catalog.Entry
	for _, e := range entries {
		if e.Frame.ID == last.Frame {
			ofDay = append(ofDay, e)
		}
	}
	prior := rotation.PriorOf("filament")
	first := coords.Measured{Heliographic: coords.Heliographic{B: deg(33), L: faceAt(from).L0 - deg(60)}, Cov: coords.Covariance{BB: 1e-4, LL: 2e-4}}
	passage := PassageInput{Name: "P7", Kind: catalog.Filament, By: "the law of its kind", Heading: "Hill Garden"}
	crossing := prior.Law.Crossing(first.Heliographic, from, 0)
	passage.East, passage.Meridian, passage.West = Moment{crossing.East, 9 * time.Hour}, Moment{crossing.Meridian, time.Hour}, Moment{crossing.West, 9 * time.Hour}
	fit := rotation.Law{Name: "own", A: 14.4, B: -2, SigmaA: 0.05, SigmaB: 0.3}
	rates := RatesInput{Fit: &fit, Laws: rotation.Laws(), Heading: "Hill Garden"}
	coming := ComingInput{From: from, To: to, Now: from.Add(100 * time.Hour), Heading: "Hill Garden"}
	odds := 0.42
	for d := range 10 {
		at := from.Add(time.Duration(d) * 24 * time.Hour)
		place := prior.Carry(first, float64(d))
		passage.Observed = append(passage.Observed, Sight{UTC: at, Place: place, Mark: 3})
		passage.Predicted = append(passage.Predicted, Sight{UTC: at.Add(-time.Hour), Place: place})
		rates.Points = append(rates.Points, Rate{Name: "P", Kind: catalog.Kinds[d%5], Lat: deg(float64(7*d - 30)), DegPerDay: 14.3 - 0.05*float64(d) + float64(d/9)*20, Sigma: 0.1})
		c := prior.Law.Crossing(coords.Heliographic{B: deg(float64(5*d - 25)), L: deg(float64(40 * d))}, from, 0)
		moment := func(u time.Time) Moment { return Moment{u, time.Duration(5+d) * time.Hour} }
		coming.Items = append(coming.Items, Coming{Name: fmt.Sprintf("2026-fil-%d", d), Kind: catalog.Kinds[d%5], Lat: deg(float64(5*d - 25)), East: moment(c.East), Meridian: moment(c.Meridian), West: moment(c.West), Odds: &odds})
	}
	return map[string]func(Options) (*canvas.Canvas, error){
		"disc": func(o Options) (*canvas.Canvas, error) {
			return Disc(DiscInput{View: *last.View, UTC: last.UTC, Entries: ofDay, Heading: "Hill Garden", Carrington: true}, o)
		},
		"map": func(o Options) (*canvas.Canvas, error) {
			return Map(MapInput{Rotation: 2308, Looks: looks, Entries: entries, Heading: "Hill Garden"}, o)
		},
		"latitudes": func(o Options) (*canvas.Canvas, error) {
			return Latitudes(LatitudesInput{From: from, To: to, Entries: entries, Looked: looked, Heading: "Hill Garden"}, o)
		},
		"numbers": func(o Options) (*canvas.Canvas, error) {
			return Numbers(NumbersInput{From: from, To: to, Series: []Series{{"groups", catalog.Sunspot, counts}, {"filaments", catalog.Filament, counts}}}, o)
		},
		"years": func(o Options) (*canvas.Canvas, error) {
			return Numbers(NumbersInput{From: from, To: to.AddDate(14, 0, 0), Series: []Series{{"groups", catalog.Sunspot, counts}}}, o)
		},
		"season": func(o Options) (*canvas.Canvas, error) {
			return Latitudes(LatitudesInput{From: from.AddDate(0, -5, 0), To: to.AddDate(0, 3, 0), Entries: entries}, o)
		},
		"passage": func(o Options) (*canvas.Canvas, error) { return Passage(passage, o) },
		"rates":   func(o Options) (*canvas.Canvas, error) { return Rates(rates, o) },
		"coming":  func(o Options) (*canvas.Canvas, error) { return Calendar(coming, o) },
	}
}

// In no chart, on no width of sheet, does a text lie on another or run off the sheet.
func TestNoTextLiesOnAnother(t *testing.T) {
	for name, draw := range allCharts(t) {
		for _, width := range []float64{360, 480, 700, 0, 1400} {
			c, err := draw(Options{Width: width})
			require.NoError(t, err, name)
			r := read(c)
			require.NotEmpty(t, r.words, name)
			sheet := canvas.Rect{Width: c.Width, Height: c.Height}
			for i, a := range r.boxes {
				tight := a.Grown(-0.6)
				assert.True(t, a.X >= -1 && a.Right() <= sheet.Width+1 && a.Y >= -1 && a.Bottom() <= sheet.Height+1, "%s %g wide: %q runs off the sheet", name, width, r.words[i])
				for j, b := range r.boxes[:i] {
					assert.False(t, tight.Overlaps(b.Grown(-0.6)), "%s %g wide: %q lies on %q", name, width, r.words[i], r.words[j])
				}
			}
		}
	}
}

// The ring of a spot stands on the map at the spot's longitude and latitude, whichever
// way it was marked (region 2740, TRADE.md, 9.12).
func TestSpotStandsOnTheMapWhereItWasMarked(t *testing.T) {
	at := time.Date(2019, 5, 9, 0, 0, 0, 0, time.UTC)
	place := coords.Heliographic{B: deg(8), L: deg(307)}
	e := catalog.Entry{
		Mark: catalog.Mark{ID: 1, Kind: catalog.Sunspot, Label: "2740", Geometry: catalog.Geometry{Shape: catalog.Point, Places: []catalog.PlacePoint{{B: place.B, Lon: place.L}}}},
		Position: catalog.Position{UTC: at, Disc: &catalog.OnDisc{
			Measured: coords.Measured{Heliographic: place}, CMD: ephemeris.At(at).CMD(place),
		}},
	}
	c, err := Map(MapInput{Rotation: int(ephemeris.Rotation(at)), Entries: []catalog.Entry{e}, Looks: []Look{{UTC: at}}}, Options{Width: 46 + 16 + 720})
	require.NoError(t, err)
	r := read(c)
	nearest := 1e9
	for _, c := range r.circles {
		nearest = min(nearest, distance(c, point(46+2*307, 96+(90-8)*2)))
	}
	assert.InDelta(t, 0, nearest, 1e-6, "twice 307° from the left, twice 82° from the top")
	assert.Contains(t, r.words, "2740")
}

// Shapes are put on the Sun as positions are: the middle of a painted filament's line
// is its position.
func TestShapeAgreesWithPosition(t *testing.T) {
	_, entries := paintedMonth(t)
	views := map[catalog.FrameID]*Look{}
	looks, _ := paintedMonth(t)
	for i := range looks {
		views[looks[i].Frame] = &looks[i]
	}
	checked := 0
	for _, e := range entries {
		if e.Mark.Kind != catalog.Filament || e.Position.Disc == nil || e.Position.Disc.Mu < 0.5 {
			continue
		}
		for _, asSeen := range []bool{true, false} {
			line := onSun(e, views[e.Frame.ID].View, asSeen).line
			want, ok := placeOf(e, asSeen)
			require.True(t, ok)
			nearest := 180.0
			for _, h := range line {
				nearest = min(nearest, h.Distance(want.Heliographic).Degrees())
			}
			assert.Less(t, nearest, 1.5, "a point of the line lies near its middle")
			checked++
		}
	}
	assert.Greater(t, checked, 20)
}
