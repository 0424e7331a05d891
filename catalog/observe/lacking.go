package observe

import (
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// An error that nobody gave is no error of zero. Where a mark's figures came without one,
// its position is derived once more with what is usual in its place: the figures that this
// moves noticeably have no error then, but a lower bound. So a position angle with an error
// and a distance from the centre without one leave the longitude unknown, while a place
// keeps its error though nobody gave one of its time.

// What is usual for figures that came without an error: a distance from the centre and a
// position angle measured on a drawing, a clock that was read by eye, a circle set by eye (common practice, no source). They decide
// only whether a missing error matters, and are in no figure.
const (
	usualSigmaR     = 0.005
	usualSigmaPA    = 0.5 * coords.Degree
	usualSigmaTimeS = 30
	usualSigmaDisc  = 1.0 // px
	usualDriftOfL0  = 13.2 * coords.Degree * usualSigmaTimeS / 86400
)

// noticeable is by which factor an error has to grow to be another.
const noticeable = 1.1

// lack is an error that nobody gave, and how the mark would be with it.
type lack struct {
	words string
	with  func(catalog.Bearings, catalog.Mark) (catalog.Bearings, catalog.Mark)
}

// lacksOf lists the errors that the figures of a mark came without.
func lacksOf(b catalog.Bearings, m catalog.Mark) (lacks []lack) {
	g := m.Geometry
	add := func(words string, with func(*catalog.Bearings, *catalog.Geometry)) {
		lacks = append(lacks, lack{words, func(b catalog.Bearings, m catalog.Mark) (catalog.Bearings, catalog.Mark) {
			with(&b, &m.Geometry)
			return b, m
		}})
	}
	switch form := g.Form(); {
	case form == catalog.FormPolar && g.SigmaR == 0:
		add("the error of r", func(_ *catalog.Bearings, g *catalog.Geometry) { g.SigmaR = usualSigmaR })
	case form == catalog.FormPixels && b.Disc != nil && b.Disc.Limb.Cov == coords.LimbCovariance{}:
		add("the error of the disc", func(b *catalog.Bearings, _ *catalog.Geometry) {
			d := *b.Disc
			d.Limb.Cov = coords.LimbCovariance{XX: usualSigmaDisc * usualSigmaDisc, YY: usualSigmaDisc * usualSigmaDisc, RR: usualSigmaDisc * usualSigmaDisc}
			b.Disc = &d
		})
	}
	if g.Form() == catalog.FormPolar && g.SigmaPA == 0 {
		add("the error of the position angle", func(_ *catalog.Bearings, g *catalog.Geometry) { g.SigmaPA = usualSigmaPA })
	}
	return lacks
}

// withoutLacking takes out of a position what lacks an error that matters. All that is
// missing counts together; what is named is what matters by itself, or all of it.
func (at moment) withoutLacking(p catalog.Position, b catalog.Bearings, m catalog.Mark) catalog.Position {
	spoilt := spoiling{of: p}
	if m.Geometry.Form() == catalog.FormPlaces && m.Geometry.SigmaPlace == 0 { // which is all the error there is
		spoilt.lat, spoilt.lon, spoilt.high = true, true, true
		return spoilt.position("the error of the place")
	}
	lacks := lacksOf(b, m)
	untimed := at.sigma == 0 && !byLongitude(m.Geometry)
	if len(lacks) == 0 {
		if untimed && spoilt.longitudeBy(usualDriftOfL0) {
			return spoilt.position("the error of the time")
		}
		return p
	}
	var words, all []string
	with, withMark, usual := b, m, at
	for _, l := range lacks {
		alone := spoiling{of: p}
		if alone.compare(at.reading(l.with(b, m))) {
			words = append(words, l.words)
		}
		all = append(all, l.words)
		with, withMark = l.with(with, withMark)
	}
	if untimed {
		alone := spoiling{of: p}
		if alone.longitudeBy(usualDriftOfL0) {
			words = append(words, "the error of the time")
		}
		all = append(all, "the error of the time")
		usual.sigma = usualSigmaTimeS * time.Second
	}
	if !spoilt.compare(usual.reading(with, withMark)) {
		return p
	}
	if len(words) == 0 {
		words = all
	}
	return spoilt.position(words...)
}

// byLongitude says whether a geometry names its Carrington longitudes, which no time moves.
func byLongitude(g catalog.Geometry) bool { return len(g.Places) > 0 && !g.Places[0].ByCMD }

// spoiling gathers which figures of a position lack an error.
type spoiling struct {
	of                        catalog.Position
	lat, lon, high, pa, above bool
}

// compare spoils what is noticeably less sure in another position, which has what is usual
// in place of what is missing; false when nothing is.
func (s *spoiling) compare(with catalog.Position) (moved bool) {
	note := func(spoilt *bool, without, with float64) {
		if with > noticeable*without {
			*spoilt, moved = true, true
		}
	}
	p := s.of
	if p.Disc != nil && with.Disc != nil {
		note(&s.lat, float64(p.Disc.Cov.SigmaB()), float64(with.Disc.Cov.SigmaB()))
		note(&s.lon, float64(p.Disc.Cov.SigmaL()), float64(with.Disc.Cov.SigmaL()))
	}
	if p.High != nil && with.High != nil {
		note(&s.high, float64(p.High.Cov.SigmaB()), float64(with.High.Cov.SigmaB()))
		note(&s.high, float64(p.High.Cov.SigmaL()), float64(with.High.Cov.SigmaL()))
	}
	if p.Edge != nil && with.Edge != nil {
		note(&s.pa, float64(p.Edge.SigmaPA), float64(with.Edge.SigmaPA))
		note(&s.above, p.Edge.SigmaMm, with.Edge.SigmaMm)
	}
	return moved
}

// longitudeBy spoils the longitude when a shift of it alone is noticeable; false when not.
func (s *spoiling) longitudeBy(shift coords.Angle) bool {
	d := s.of.Disc
	if d == nil || !(d.Cov.LL > 0) || shift.Squared() <= (noticeable*noticeable-1)*d.Cov.LL {
		return false
	}
	s.lon = true
	return true
}

// position is what is left: errors that lack nothing, and lower bounds of latitude and
// longitude.
func (s *spoiling) position(words ...string) catalog.Position {
	p := s.of
	p.Lacks = strings.Join(words, " and ")
	if p.Disc != nil && (s.lat || s.lon) {
		d := *p.Disc
		if s.lat {
			p.LeastLat, d.Cov.BB = d.Cov.SigmaB(), 0
		}
		if s.lon {
			p.LeastLon, d.Cov.LL = d.Cov.SigmaL(), 0
		}
		d.Cov.BL = 0
		p.Disc = &d
	}
	if p.High != nil && (s.high || s.lat || s.lon) {
		h := *p.High
		h.Cov = coords.Covariance{}
		p.High = &h
	}
	if p.Edge != nil {
		e := *p.Edge
		if s.pa {
			e.SigmaPA, e.SigmaLat = 0, 0
		}
		if s.above {
			e.SigmaMm, e.SigmaArcsec = 0, 0
		}
		p.Edge = &e
	}
	return p
}
