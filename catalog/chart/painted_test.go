package chart

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
	"limbwatch/coords/picture"
	"limbwatch/coords/rotation"
)

// paintedDay is one day's picture of an invented Sun, with marks where its truth
// says that they are.
type paintedDay struct {
	utc     time.Time
	picture *picture.Picture
	view    disc.View
	entries []catalog.Entry
}

func paintedSun(start time.Time, days int) *paint.Population {
	drift := func(tracer string) paint.Drift {
		law := rotation.PriorOf(tracer).Law
		return law.CarringtonDriftDegPerDay
	}
	return paint.Generate(7, start, days, paint.Laws{
		Spot: drift("sunspot"), Plage: drift("plage"), Filament: drift("filament"), Pattern: drift("plage"),
	})
}

// paintedAt is a day of an invented Sun; with radius 0 it is not painted, only marked.
func paintedAt(t testing.TB, sun *paint.Population, utc time.Time, width int, radiusPx float64, painted bool) paintedDay {
	camera := paint.Centred(width, width, radiusPx)
	camera.North = coords.North{Angle: 23 * coords.Degree, Mirrored: true, Sigma: 0.3 * coords.Degree}
	scene := paint.Scene{Sun: sun.At(utc), Face: ephemeris.At(utc), Band: paint.DoubleStack(), Camera: camera, Seed: uint64(utc.Unix())}
	scene.Camera.Exposure = 0.8
	truth, err := scene.Truth()
	require.NoError(t, err)
	day := paintedDay{utc: utc, view: disc.View{Limb: truth.Limb, Layer: truth.Layer, North: camera.North, Face: truth.Face}}
	if painted {
		frame, err := paint.Paint(scene)
		require.NoError(t, err)
		day.picture = frame.Picture()
	}
	frame := catalog.Frame{ID: catalog.FrameID(utc.Unix() / 3600), Taken: utc, WidthPx: width, HeightPx: width}
	for _, m := range truth.Marks {
		g, kind := geometryOf(m)
		if kind == 0 {
			continue
		}
		mark := catalog.Mark{
			ID:    catalog.MarkID(int(utc.Unix()/86400)*100 + len(day.entries)),
			Frame: frame.ID, Kind: kind, Geometry: g, Label: m.Label, Spots: m.Count,
		}
		day.entries = append(day.entries, catalog.Entry{Mark: mark, Position: positionOf(mark, day.view, utc), Frame: frame, PassageName: m.Label})
	}
	return day
}

// geometryOf is how an observer would mark a painted feature.
func geometryOf(m paint.Mark) (g catalog.Geometry, kind catalog.Kind) {
	g.SigmaClickPx = 1
	switch {
	case m.Kind == paint.KindSunspot && m.Visible && m.Mu > 0.1:
		g.Shape, g.Pixels, kind = catalog.Point, []coords.Pixel{m.Pixel}, catalog.Sunspot
	case m.Kind == paint.KindPlage && len(m.Outline) > 8 && m.Mu > 0.2:
		g.Shape, g.Pixels, kind = catalog.Outline, m.Outline, catalog.Plage
	case m.Beyond != nil && m.Beyond.TopHeightMm > 12:
		g.Shape, kind = catalog.Line, catalog.Prominence
		g.Pixels = []coords.Pixel{m.Beyond.FromPixel, m.Beyond.Top, m.Beyond.ToPixel}
	case m.Kind == paint.KindFilament && len(m.Spine) > 3:
		g.Shape, g.Pixels, kind = catalog.Line, m.Spine, catalog.Filament
	}
	return g, kind
}

// positionOf is where a mark in pixels lies.
func positionOf(m catalog.Mark, view disc.View, utc time.Time) catalog.Position {
	p := catalog.Position{Mark: m.ID, UTC: utc}
	at := m.Geometry.Pixels[0]
	height := disc.Height{Mm: rotation.PriorOf(m.Kind.String()).HeightMm}
	if m.Kind == catalog.Prominence {
		shape, err := view.Prominence(m.Geometry.Pixels)
		if err != nil {
			return p
		}
		place := view.Place(shape.Middle, 1, disc.Height{})
		p.Edge = &catalog.AtEdge{
			PA: place.PositionAngle, From: shape.Base[0], To: shape.Base[1], TopPA: shape.Top,
			Lat: place.Beyond.Limb.B, Lon: place.Beyond.Limb.L, HeightMm: place.Beyond.AboveSunMm,
		}
		return p
	}
	if spine, err := view.Spine(m.Geometry.Pixels); m.Geometry.Shape == catalog.Line && err == nil {
		at = spine.Middle
	}
	if centre, err := view.Centroid(m.Geometry.Pixels); m.Geometry.Shape == catalog.Outline && err == nil {
		at = centre
	}
	place := view.Place(at, 1, height)
	if r := place.Photosphere; r.Known {
		p.Disc = &catalog.OnDisc{Measured: r.Measured, CMD: r.CMD, Mu: r.Mu}
	}
	if r := place.Corrected; r.Known && height.Mm != 0 {
		p.High = &catalog.AtHeight{Measured: r.Measured, CMD: r.CMD, Height: coords.Layer{HeightMm: height.Mm}}
	}
	return p
}
