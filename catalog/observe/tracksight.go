package observe

import (
	"math"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// unknownSigma stands for the error of a position that came without one: between
// the tenth of a degree of printed catalogues and the half of whole degrees.
const unknownSigma = 0.3 * coords.Degree

// edgeSigma is how far along in longitude the foot of something at the edge may
// stand from the limb: 26 Mm high, the commonest height of prominences (SLIPCAT,
// arXiv:1004.4553), is seen from 14° beyond the chromospheric limb; half of that.
const edgeSigma = 7 * coords.Degree

// sightingOf is a mark as the follower needs it; false when it has no place.
//
// The place is the one corrected for height. What stands at the edge has the
// latitude of the limb there and is as uncertain in longitude as its foot is.
func sightingOf(e catalog.Entry) (follow.Sighting, bool) {
	p := e.Position
	if p.Reason != "" {
		return follow.Sighting{}, false
	}
	s := follow.Sighting{Kind: e.Mark.Kind, UTC: p.UTC, Frame: e.Mark.Frame.String(), Face: ephemeris.At(p.UTC)}
	if place, ok := p.Reading(); ok {
		s.Place = place
	} else if edge := p.Edge; edge != nil {
		along := edgeSigma
		if cos := edge.Lat.Cos(); cos > 0.1 {
			along /= coords.Angle(cos)
		}
		s.Place = coords.Measured{
			Heliographic: coords.Heliographic{B: edge.Lat, L: edge.Lon},
			Cov:          coords.Covariance{BB: squared(max(edge.SigmaLat, coords.Degree)), LL: squared(along)},
		}
	} else {
		return follow.Sighting{}, false
	}
	if !(s.Place.Cov.BB > 0) || !(s.Place.Cov.LL > 0) {
		s.Place.Cov = coords.Covariance{BB: squared(unknownSigma), LL: squared(unknownSigma / coords.Angle(max(0.05, s.Place.B.Cos())))}
	}
	if math.IsNaN(float64(s.Place.B)) || math.IsNaN(float64(s.Place.L)) {
		return follow.Sighting{}, false
	}
	return s, true
}

func squared(a coords.Angle) float64 { return float64(a) * float64(a) }
