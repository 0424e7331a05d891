package report

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/chart"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/picture"
	"limbwatch/coords/rotation"
)

const deg = coords.Degree

// feature is a thing on the Sun that keeps its latitude and drifts by its law.
type feature struct {
	kind     catalog.Kind
	lat, lon coords.Angle // on the first day
	passage  catalog.PassageID
	spots    int
}

var firstDay = time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)

// aMonth is March 2026 as an invented observer saw it, on so many days, with some ten
// marks a day on reduced pictures of a plain disc.
func aMonth(t testing.TB, observedDays int) Input {
	t.Helper()
	random := rand.New(rand.NewPCG(3, 26))
	observer := catalog.Observer{ID: 1, Name: "Wren Holloway", Code: "WH"}
	site := catalog.Site{ID: 1, Name: "Hill Garden", LatDeg: 50.08, LonDeg: 14.42, ElevationM: 310}
	instrument := catalog.Instrument{ID: 1, Name: "60 mm refractor", ApertureMm: 60, FocalMm: 500}
	setup := catalog.Setup{ID: 1, Instrument: 1, Name: "double stack", WavelengthA: 6562.8, PassbandA: 0.5, Stacked: 2, PixelUm: 3.45}
	in := Input{Period: Month(firstDay), K: 1, Program: "limbwatch 0", Made: firstDay.AddDate(0, 1, 2),
		Words:    "A month of haze and two good weeks. The long filament at N31 was the thing to see: it came round the east limb on the 9th as a low hedge, and left as an arch.\n\nHα, B₀ −7.2°, ⊙ and ångström (Å) ought to print.",
		Cautions: []string{"Never look at the Sun through any optics without the filters made for them.", "Inspect every filter each time."}}
	features := spreadOut(random)
	for i, f := range features {
		in.Passages = append(in.Passages, catalog.Passage{ID: f.passage, Name: fmt.Sprintf("%c%d", "?SAFXO"[f.kind], i+1), Kind: f.kind})
	}
	pic := plainDisc(t, 320)
	in.Picture = func(catalog.FrameID) (*picture.Picture, error) { return pic, nil }
	for n := range observedDays {
		day := firstDay.AddDate(0, 0, n)
		s := Sitting{Sitting: catalog.Sitting{ID: catalog.SittingID(n + 1), Observer: 1, Setup: 1, Site: 1, Day: day,
			Looked: map[catalog.Kind]catalog.Look{catalog.Sunspot: catalog.LookedFor, catalog.Filament: catalog.LookedFor},
			Seeing: catalog.Rating{Value: fmt.Sprint(1 + n%4), Scale: "Kiepenheuer steadiness"}}, Observer: &observer, Site: &site, Instrument: &instrument, Setup: &setup}
		if n%4 != 1 {
			s.Looked[catalog.Prominence], s.Looked[catalog.Plage] = catalog.LookedFor, catalog.LookedFor
		}
		f := catalog.Frame{ID: catalog.FrameID(n + 1), Sitting: s.ID, Taken: day.Add(9*time.Hour + time.Duration(n*7)*time.Minute), Moment: catalog.MomentMiddle}
		s.Frames = []catalog.Frame{f}
		in.Sittings = append(in.Sittings, s)
		face := ephemeris.At(f.Taken)
		view := disc.View{Limb: coords.Limb{Centre: coords.Pixel{X: 640, Y: 640}, RadiusPx: 560, Cov: coords.LimbCovariance{XX: .04, YY: .04, RR: .05}},
			Layer: coords.Chromosphere, Face: face, North: coords.North{Angle: coords.Angle(n) * 2 * deg, Sigma: 0.2 * deg}}
		in.Looks = append(in.Looks, chart.Look{Frame: f.ID, UTC: f.Taken, View: &view, FrameWidthPx: 1280})
		in.Discs = append(in.Discs, catalog.Disc{Frame: f.ID, Method: catalog.DiscFitted, Limb: view.Limb})
		in.Norths = append(in.Norths, catalog.North{Frame: f.ID, Method: "as last time", Sigma: view.North.Sigma})
		for _, thing := range features {
			if s.Looked[thing.kind] != catalog.NotLooked {
				in.markOn(thing, f, view)
			}
		}
	}
	return in
}

// spreadOut puts features all round the Sun.
func spreadOut(random *rand.Rand) (features []feature) {
	for i := range 24 {
		kind := []catalog.Kind{catalog.Sunspot, catalog.Plage, catalog.Filament, catalog.Filament, catalog.Prominence}[i%5]
		lat := coords.Angle(8+20*random.Float64()) * deg
		if kind == catalog.Filament || kind == catalog.Prominence {
			lat = coords.Angle(15+40*random.Float64()) * deg
		}
		if i%2 == 0 {
			lat = -lat
		}
		features = append(features, feature{kind, lat, coords.Angle(15*i) * deg, catalog.PassageID(i + 1), 1 + random.IntN(12)})
	}
	return features
}

// markOn marks a feature on a frame, if it is in view there.
func (in *Input) markOn(thing feature, f catalog.Frame, view disc.View) {
	law := rotation.PriorOf(thing.kind.String()).Law
	here := law.Carry(coords.Heliographic{B: thing.lat, L: thing.lon}, f.Taken.Sub(firstDay).Hours()/24)
	id := catalog.MarkID(len(in.Entries) + 1)
	e := catalog.Entry{Frame: f, PassageName: in.Passages[thing.passage-1].Name,
		Mark: catalog.Mark{ID: id, Record: catalog.Record{UUID: uuid.UUID{15: byte(id)}}, Frame: f.ID, Kind: thing.kind},
		Join: &catalog.Join{Mark: id, Passage: thing.passage, State: catalog.Made, By: catalog.ByProgram}}
	e.Position = catalog.Position{Mark: id, UTC: f.Taken}
	cmd := view.Face.CMD(here)
	height := 0.0
	if thing.kind == catalog.Prominence {
		if off := cmd.Abs().Degrees() - 90; off > 6 || off < -4 {
			return
		}
		height = 40
	}
	p, visible := view.Project(here, height)
	if !visible {
		return
	}
	polar := view.ProjectPolar(here, height)
	e.Position.Polar = &catalog.PolarPoint{PA: polar.PositionAngle, R: polar.R}
	if thing.kind == catalog.Prominence {
		limb := view.AtLimb(polar.PositionAngle)
		e.Position.Edge = &catalog.AtEdge{PA: polar.PositionAngle, SigmaPA: 0.4 * deg, From: polar.PositionAngle - 2*deg, To: polar.PositionAngle + 2*deg,
			TopPA: polar.PositionAngle, Lat: limb.B, SigmaLat: 0.4 * deg, Lon: limb.L, HeightArcsec: 38, HeightMm: 30, SigmaMm: 2.4}
		e.Mark.Geometry = catalog.Geometry{Shape: catalog.Line, SigmaClickPx: 0.7, Pixels: []coords.Pixel{p, {X: p.X + 8, Y: p.Y}}}
	} else {
		if cmd.Abs().Degrees() > 80 {
			return
		}
		v := float64(0.5*deg) * float64(0.5*deg)
		e.Position.Disc = &catalog.OnDisc{Measured: coords.Measured{Heliographic: here, Cov: coords.Covariance{BB: v, LL: v}}, CMD: cmd, Mu: polar.Mu}
		e.Mark.Geometry = catalog.Geometry{Shape: catalog.Point, SigmaClickPx: 0.7, Pixels: []coords.Pixel{p}}
		if thing.kind == catalog.Filament {
			q, _ := view.Project(coords.Heliographic{B: here.B + 4*deg, L: here.L - 7*deg}, 0)
			e.Mark.Geometry.Shape, e.Mark.Geometry.Pixels = catalog.Line, []coords.Pixel{p, q}
		}
	}
	if thing.kind == catalog.Sunspot {
		e.Mark.Extent, e.Mark.Spots = catalog.SpotGroup, thing.spots
	}
	in.Entries = append(in.Entries, e)
	in.Joins = append(in.Joins, *e.Join)
}

// plainDisc is a disc darkened toward its limb that fills 7/8 of a square.
func plainDisc(t testing.TB, size int) *picture.Picture {
	t.Helper()
	grey := make([]float32, size*size)
	for i := range grey {
		x, y := float64(i%size)-float64(size)/2+0.5, float64(i/size)-float64(size)/2+0.5
		if r := math.Hypot(x, y) / (float64(size) * 7 / 16); r < 1 {
			grey[i] = float32(40000 * (0.4 + 0.6*math.Sqrt(1-r*r)))
		}
	}
	p, err := picture.New(size, size, grey, picture.Depth{Bits: 16})
	require.NoError(t, err)
	return p
}
