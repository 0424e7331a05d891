package observe

import (
	"errors"
	"strconv"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// UnknownSigma stands for the error of a position that came without one: between
// the tenth of a degree of printed catalogues and the half of whole degrees.
const UnknownSigma = 0.3 * coords.Degree

// edgeSigma is how far along in longitude the foot of something at the edge may
// stand from the limb: 26 Mm high, the commonest height of prominences (SLIPCAT,
// arXiv:1004.4553), is seen from 14° beyond the chromospheric limb; half of that.
const edgeSigma = 7 * coords.Degree

// sightingOf is a mark as the follower needs it; false when it has no place.
func sightingOf(e catalog.Entry) (follow.Sighting, bool) {
	p := e.Position
	s := store.Sighted{Mark: e.Mark.ID, Frame: e.Mark.Frame, Kind: e.Mark.Kind, Shape: e.Mark.Geometry.Shape, Extent: e.Mark.Extent, UTC: p.UTC}
	place, ok := p.Reading()
	switch {
	case p.Reason != "":
		return follow.Sighting{}, false
	case ok:
		s.Place = place
	case p.Edge != nil:
		s.AtEdge, s.Place.B, s.Place.L, s.Place.Cov.BB = true, p.Edge.Lat, p.Edge.Lon, p.Edge.SigmaLat.Squared()
	default:
		return follow.Sighting{}, false
	}
	sighting := sightingAt(s, ephemeris.At(p.UTC))
	sighting.Frame = e.Mark.Frame.String()
	return sighting, true
}

// sightingAt is a mark as the follower needs it, without a name and without that of
// its frame.
//
// The place is the one corrected for height. What stands at the edge has the
// latitude of the limb there and is as uncertain in longitude as its foot is.
func sightingAt(e store.Sighted, face coords.Face) follow.Sighting {
	s := follow.Sighting{Kind: e.Kind, Extent: e.Extent, UTC: e.UTC, Face: face, Place: e.Place}
	if e.AtEdge {
		along := edgeSigma
		if cos := e.Place.B.Cos(); cos > 0.1 {
			along /= coords.Angle(cos)
		}
		s.Place.Cov = coords.Covariance{BB: max(e.Place.Cov.SigmaB(), coords.Degree).Squared(), LL: along.Squared()}
	}
	s.Place.Cov = withUnknown(s.Place)
	return s
}

// marksNamed says what the follower cannot use with the names of the marks, which it has
// under their places in a list.
func marksNamed(err error, mark func(i int) catalog.MarkID) error {
	unfit, ok := errors.AsType[*follow.UnfitError](err)
	if !ok {
		return err
	}
	named := follow.UnfitError{Noun: "mark", Why: unfit.Why}
	for _, id := range unfit.IDs {
		i, _ := strconv.Atoi(id) // as the list was numbered
		named.IDs = append(named.IDs, mark(i).String())
	}
	return &named
}

// withUnknown are the errors of a place, those that are not known as is usual.
func withUnknown(place coords.Measured) coords.Covariance {
	c, usual := place.Cov, unknownErrors(place.B)
	if c.BB > 0 && c.LL > 0 {
		return c
	}
	if !(c.BB > 0) {
		c.BB = usual.BB
	}
	if !(c.LL > 0) {
		c.LL = usual.LL
	}
	c.BL = 0
	return c
}

// unknownErrors are those of a place at a latitude that came without any.
func unknownErrors(lat coords.Angle) coords.Covariance {
	return coords.Covariance{BB: UnknownSigma.Squared(), LL: (UnknownSigma / coords.Angle(max(0.05, lat.Cos()))).Squared()}
}

// facesOf remembers the Sun of the frame before: marks come frame by frame.
type facesOf struct {
	utc  time.Time
	face coords.Face
	id   catalog.FrameID
	name string
}

func (f *facesOf) at(utc time.Time) coords.Face {
	if !utc.Equal(f.utc) {
		f.utc, f.face = utc, ephemeris.At(utc)
	}
	return f.face
}

// frame is what the follower calls a frame.
func (f *facesOf) frame(id catalog.FrameID) string {
	if id != f.id {
		f.id, f.name = id, id.String()
	}
	return f.name
}
