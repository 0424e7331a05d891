package observe

import (
	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// shape is a mark drawn on a view, about to be measured.
//
// Its representative point, of which a log prints the position, is by one rule a
// shape: the point; halfway along a line, by length on the Sun; the centroid of an
// outline, on the sphere. A prominence is given by the two ends of its base, its
// top, and what lies midway between the ends. What runs over the limb has a
// position on the disc and one at the edge; of a prominence only the one at the
// edge counts, since its drawn base dips under the limb by chance.
type shape struct {
	kind   catalog.Kind
	shape  catalog.Shape
	points []coords.Pixel
	view   disc.View
	read   func(coords.Pixel) disc.Place // with the errors of the mark
	height disc.Height                   // that read corrects for
}

func (s shape) position() catalog.Position {
	var p catalog.Position
	edge, beyond := s.beyond()
	if !beyond || s.kind != catalog.Prominence {
		if at, ok := s.middle(); ok {
			s.fill(&p, s.read(at))
		}
	}
	if beyond {
		s.addEdge(&p, edge)
	}
	if p.Disc == nil && p.High == nil && p.Edge == nil {
		p.Reason = "no point of the mark can be read"
	}
	return p
}

// middle is the representative point of what lies on the disc, or, for what lies
// between the two limbs, the vertex or mean that is nearest to being one.
func (s shape) middle() (coords.Pixel, bool) {
	switch s.shape {
	case catalog.Line:
		if spine, err := s.view.Spine(s.points); err == nil {
			return spine.Middle, true
		}
	case catalog.Outline:
		// The areas of one that crosses itself cancel, and its centroid may be anywhere.
		if at, err := s.view.Centroid(s.points); err == nil && among(s.points, at) {
			return at, true
		}
	}
	at := meanOf(s.points)
	if s.shape == catalog.Line {
		at = s.points[len(s.points)/2]
	}
	where := s.read(at).Where
	return at, where == disc.OnDisc || where == disc.BetweenLimbs
}

// among says whether a pixel lies within the extent of points, or beside it by half of
// that: sides that are straight on the Sun are bent in a picture.
func among(points []coords.Pixel, at coords.Pixel) bool {
	least, most := points[0], points[0]
	for _, p := range points {
		least = coords.Pixel{X: min(least.X, p.X), Y: min(least.Y, p.Y)}
		most = coords.Pixel{X: max(most.X, p.X), Y: max(most.Y, p.Y)}
	}
	within := func(v, least, most float64) bool {
		room := (most - least) / 2
		return v >= least-room && v <= most+room
	}
	return within(at.X, least.X, most.X) && within(at.Y, least.Y, most.Y)
}

func meanOf(points []coords.Pixel) (mean coords.Pixel) {
	for _, p := range points {
		mean.X += p.X / float64(len(points))
		mean.Y += p.Y / float64(len(points))
	}
	return mean
}

// fill takes over what a place on the visible disc says.
func (s shape) fill(p *catalog.Position, place disc.Place) {
	p.Polar = &catalog.PolarPoint{PA: place.PositionAngle, R: place.R}
	p.NearLimb = place.NearLimb()
	if r := place.Photosphere; r.Known {
		p.Disc = &catalog.OnDisc{Measured: r.Measured, CMD: r.CMD, Mu: r.Mu}
	}
	if r := place.Corrected; r.Known && s.height != (disc.Height{}) {
		p.High = atHeight(r, s.height)
	}
	if place.Where == disc.BetweenLimbs {
		p.Edge = edgeOf(place, [2]coords.Angle{place.PositionAngle, place.PositionAngle}, place.PositionAngle)
		p.Edge.WithinLimb = true
	}
}

// beyond measures what stands beyond the limb of the view.
func (s shape) beyond() (disc.Prominence, bool) {
	points := s.points
	if s.shape == catalog.Outline {
		points = append(points[:len(points):len(points)], points[0])
	}
	edge, err := s.view.Prominence(points)
	return edge, err == nil
}

// addEdge takes over what stands beyond the limb.
func (s shape) addEdge(p *catalog.Position, edge disc.Prominence) {
	place := s.read(edge.Middle)
	if !place.Stands() || place.AtLimb && p.Polar != nil { // what is on the limb is read as of the disc already
		return
	}
	p.Edge = edgeOf(place, edge.Base, edge.Top)
	if p.Polar == nil {
		p.Polar = &catalog.PolarPoint{PA: place.PositionAngle, R: place.R}
		p.NearLimb = place.NearLimb()
	}
}

func edgeOf(place disc.Place, base [2]coords.Angle, top coords.Angle) *catalog.AtEdge {
	b := place.Beyond
	return &catalog.AtEdge{
		PA: place.PositionAngle, SigmaPA: place.SigmaPositionAngle,
		From: base[0], To: base[1], TopPA: top,
		Lat: b.Limb.B, SigmaLat: b.Limb.Cov.SigmaB(), Lon: b.Limb.L,
		HeightArcsec: b.HeightArcsec, SigmaArcsec: b.SigmaArcsec,
		HeightMm: b.AboveSunMm, SigmaMm: b.SigmaAboveMm,
	}
}
