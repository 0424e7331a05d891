package observe

import (
	"errors"
	"math"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/north"
	"limbwatch/coords/rotation"
)

// ErrNoDisc and ErrNoNorth say what a frame lacks for positions in pixels.
var (
	ErrNoDisc  = errors.New("the frame has no disc yet")
	ErrNoNorth = errors.New("the frame has no north yet")
	ErrNoSite  = errors.New("north is counted from the zenith, and the sitting has no site")
)

// deriveVersion counts the ways in which Derive has worked. Whoever changes what it
// gives, the priors and laws that it uses included, counts one on: a catalogue whose
// positions were derived in an older way gets them anew when it is opened.
const deriveVersion = 3

// Derive computes where marks of one frame lie. It is the one place where marks
// become positions.
func Derive(b catalog.Bearings, marks []catalog.Mark) []catalog.Position {
	at := instantOf(b)
	positions := make([]catalog.Position, len(marks))
	for i, m := range marks {
		positions[i] = at.derive(b, m)
		positions[i].Mark, positions[i].UTC = m.ID, at.utc
	}
	return positions
}

// ViewOf is what reads positions off a frame: its limb, north and Sun. Errors:
// ErrNoDisc, ErrNoNorth, ErrNoSite, or that of a time without an ephemeris.
func ViewOf(b catalog.Bearings) (disc.View, error) { return instantOf(b).view(b) }

// HeightOf is how high a mark stands: as the observer says, or as is usual for its
// kind; of "other" things nothing is known, and they count as on the photosphere.
func HeightOf(m catalog.Mark) disc.Height {
	switch {
	case m.Height != nil:
		return disc.Height{Mm: m.Height.HeightMm, SigmaMm: m.Height.SigmaMm}
	case m.Kind == catalog.Other:
		return disc.Height{}
	}
	prior := rotation.PriorOf(m.Kind.String())
	return disc.Height{Mm: prior.HeightMm, SigmaMm: prior.HeightSigmaMm}
}

// moment is an instant with the Sun of it.
type moment struct {
	utc   time.Time
	sigma time.Duration
	face  coords.Face
	err   error
}

func instantOf(b catalog.Bearings) moment {
	at := moment{utc: b.Frame.Middle(b.ClockCorrectionS), sigma: time.Duration(b.Frame.SigmaS * float64(time.Second))}
	if at.err = ephemeris.Check(at.utc); at.err == nil {
		at.face = ephemeris.At(at.utc)
	}
	return at
}

func (at moment) view(b catalog.Bearings) (disc.View, error) {
	switch {
	case at.err != nil:
		return disc.View{}, at.err
	case b.Disc == nil:
		return disc.View{}, ErrNoDisc
	case b.North == nil:
		return disc.View{}, ErrNoNorth
	}
	celestial, err := at.celestial(b)
	return disc.View{
		Limb: b.Disc.Limb, Layer: b.Disc.Layer, North: celestial, Face: at.face, SigmaTime: at.sigma,
	}, err
}

// celestial turns what a frame's north speaks of into where celestial north points
// in it at this instant.
func (at moment) celestial(b catalog.Bearings) (coords.North, error) {
	n := coords.North{Angle: b.North.Angle, Mirrored: b.North.Mirrored, Sigma: b.North.Sigma}
	var found north.Found
	var err error
	switch b.North.Toward {
	case catalog.TowardSolar:
		turned := n
		turned.Sigma = coords.Degree // P is as good as exact, so any error stays as it is
		found, err = north.FromSolar(turned, at.face.P)
		found.Sigma = n.Sigma
	case catalog.TowardZenith:
		if b.Site == nil {
			return n, ErrNoSite
		}
		site := north.Site{Lat: degrees(b.Site.LatDeg), LonEast: degrees(b.Site.LonDeg)}
		found, err = north.FromLevel(at.utc, at.sigma, site, north.Level{Zenith: n.Angle, Mirrored: n.Mirrored, Sigma: n.Sigma})
	default:
		return n, nil
	}
	return found.North, err
}

func degrees(deg float64) coords.Angle { return coords.Angle(deg) * coords.Degree }

// derive gives the position of one mark, with the errors that are known.
func (at moment) derive(b catalog.Bearings, m catalog.Mark) catalog.Position {
	return at.withoutLacking(at.reading(b, m), b, m)
}

// reading gives the position of one mark; an error that nobody gave adds nothing to its.
func (at moment) reading(b catalog.Bearings, m catalog.Mark) catalog.Position {
	if at.err != nil {
		return catalog.Position{Reason: at.err.Error()}
	}
	height := HeightOf(m)
	switch m.Geometry.Form() {
	case catalog.FormPlaces:
		return at.ofPlaces(m.Geometry, height)
	case catalog.FormPolar:
		return at.ofPolar(m, height)
	}
	view, err := at.view(b)
	if err != nil {
		return catalog.Position{Reason: err.Error()}
	}
	click := m.Geometry.SigmaClickPx
	read := func(p coords.Pixel) disc.Place { return view.Place(p, click, height) }
	return shape{kind: m.Kind, shape: m.Geometry.Shape, points: m.Geometry.Pixels, view: view, read: read, height: height}.position()
}

// paperRadiusPx is the radius of the disc that polar marks are drawn on, exact and
// with celestial north up, so that shapes are measured as in a picture.
const paperRadiusPx = 1000

// ofPolar gives the position of a mark by position angles and radii.
func (at moment) ofPolar(m catalog.Mark, height disc.Height) catalog.Position {
	g := m.Geometry
	view := at.paper(g)
	points := make([]coords.Pixel, len(g.Polar))
	for i, p := range g.Polar {
		right, down := view.North.Direction(p.PA)
		points[i] = view.Limb.At(p.R*right, p.R*down)
	}
	read := func(p coords.Pixel) disc.Place {
		u, v := view.Limb.Unit(p)
		return view.PlacePolar(view.North.PositionAngle(u, v), math.Hypot(u, v), g.SigmaR, height)
	}
	return shape{kind: m.Kind, shape: g.Shape, points: points, view: view, read: read, height: height}.position()
}

// paper is the view of polar marks.
func (at moment) paper(g catalog.Geometry) disc.View {
	return disc.View{
		Limb: coords.Limb{RadiusPx: paperRadiusPx}, Layer: g.PolarLimb, Face: at.face, SigmaTime: at.sigma,
		North: coords.North{Sigma: g.SigmaPA},
	}
}

// ofPlaces gives the position of a mark by latitudes and longitudes: those that
// were given, as on the photosphere.
func (at moment) ofPlaces(g catalog.Geometry, height disc.Height) catalog.Position {
	places := make([]coords.Heliographic, len(g.Places))
	for i, p := range g.Places {
		places[i] = p.On(at.face.L0)
	}
	here := at.middleOf(g.Shape, places)
	cov := coords.Covariance{BB: g.SigmaPlace.Squared(), LL: (g.SigmaPlace / coords.Angle(max(here.B.Cos(), 1e-6))).Squared()}
	if g.Places[0].ByCMD { // the disc's centre moves on while the clock is wrong
		cov.LL += at.driftOfL0().Squared()
	}
	view := disc.View{Face: at.face}
	polar := view.ProjectPolar(here, 0)
	p := catalog.Position{Disc: &catalog.OnDisc{
		Measured: coords.Measured{Heliographic: here, Cov: cov},
		CMD:      at.face.CMD(here), Mu: polar.Mu,
	}}
	if !polar.Visible {
		return p
	}
	p.Polar = &catalog.PolarPoint{PA: polar.PositionAngle, R: polar.R}
	if height != (disc.Height{}) {
		high := view.PlacePolar(polar.PositionAngle, min(polar.R, 1), 0, height).Corrected
		if high.Known {
			high.Cov = high.Cov.Plus(cov)
			p.High = atHeight(high, height)
		}
	}
	return p
}

// middleOf is the representative place of a shape given by places: they are drawn
// as seen from straight above their mean, and measured like any drawing.
func (at moment) middleOf(kind catalog.Shape, places []coords.Heliographic) coords.Heliographic {
	if kind == catalog.Point {
		return places[0]
	}
	var mean [3]float64
	for _, p := range places {
		for i, x := range p.Vector() {
			mean[i] += x
		}
	}
	above := coords.HeliographicOf(mean)
	view := disc.View{
		Limb: coords.Limb{RadiusPx: paperRadiusPx},
		Face: coords.Face{B0: above.B, L0: above.L, Semidiameter: at.face.Semidiameter},
	}
	points := make([]coords.Pixel, len(places))
	for i, p := range places {
		points[i], _ = view.Project(p, 0)
	}
	read := func(p coords.Pixel) disc.Place { return view.Place(p, 0, disc.Height{}) }
	middle, ok := shape{shape: kind, points: points, view: view, read: read}.middle()
	if place := read(middle).Photosphere; ok && place.Known {
		return place.Heliographic
	}
	return above // spread over more than half the Sun
}

// driftOfL0 is how far L0 moves in the error of the time.
func (at moment) driftOfL0() coords.Angle {
	return (ephemeris.At(at.utc.Add(at.sigma)).L0 - at.face.L0).Wrap180()
}

func atHeight(r disc.Reading, h disc.Height) *catalog.AtHeight {
	return &catalog.AtHeight{Measured: r.Measured, CMD: r.CMD, Height: coords.Layer{HeightMm: h.Mm, SigmaMm: h.SigmaMm}}
}
