package catalog

import (
	"time"

	"limbwatch/coords"
)

// Position is where a mark lies, derived from its figures, the frame's disc and
// north, the instant and the Sun. It is kept beside the mark so that a log prints
// without recomputing, is rewritten whenever one of those changes, and is no
// edit of the mark.
//
//	UTC       the instant used: the middle of the exposure on a corrected clock
//	Reason    why there is no position, in words; empty when there is one
//	Polar     of the representative point: position angle from celestial north
//	          through east, and distance from the centre in radii of the frame's limb
//	          (of the photosphere where there is no picture); nil for a place that
//	          was hidden behind the Sun
//	Disc      the reading as on the photosphere; nil when no part lies on the disc
//	          within the photospheric limb
//	High      the reading corrected for height; nil for what lies on the photosphere
//	Edge      the part beyond the photospheric limb, nil when there is none
//	NearLimb  the limb is too near, for the errors, to tell the side
//	Lacks     which errors nobody gave, where that matters, in words; the errors that
//	          they would move are not known then, and zero
//	LeastLat, LeastLon  what the errors on the photosphere are at least, where they are
//	          not known for that
type Position struct {
	Mark     MarkID
	UTC      time.Time
	Reason   string
	Polar    *PolarPoint
	Disc     *OnDisc
	High     *AtHeight
	Edge     *AtEdge
	NearLimb bool

	Lacks              string
	LeastLat, LeastLon coords.Angle
}

// Reading is the best place on the Sun: corrected for height where that applies.
// It is false when there is none.
func (p Position) Reading() (coords.Measured, bool) {
	switch {
	case p.High != nil:
		return p.High.Measured, true
	case p.Disc != nil:
		return p.Disc.Measured, true
	}
	return coords.Measured{}, false
}

// OnDisc is a place as on the photosphere, which is what published positions are.
//
//	Measured  a variance of zero means that no error is known
//	CMD       central meridian distance, west positive
//	Mu        cosine between the surface normal and the line of sight
type OnDisc struct {
	coords.Measured
	CMD coords.Angle
	Mu  float64
}

// AtHeight is a place corrected for height, with the error of the height folded in.
//
//	Height  the height used, above the photosphere
type AtHeight struct {
	coords.Measured
	CMD    coords.Angle
	Height coords.Layer
}

// AtEdge is the position of what stands beyond the photospheric limb. It has a
// position angle, the latitude of the limb there, and the longitude of that limb
// point, which is not its own: its foot may lie before or behind.
//
//	PA, SigmaPA          midway between its two ends
//	From, To             of its two ends along the limb, going through east
//	TopPA                of its highest point
//	Lat, SigmaLat, Lon   of the limb point under PA
//	HeightArcsec         of the top above the frame's limb, with its error; negative
//	                     when WithinLimb
//	HeightMm             of the top above the photosphere, with its error
//	WithinLimb           inside the frame's limb, and so of the disc to the eye, but
//	                     beyond the photospheric one, which is smaller
type AtEdge struct {
	PA, SigmaPA               coords.Angle
	From, To, TopPA           coords.Angle
	Lat, SigmaLat, Lon        coords.Angle
	HeightArcsec, SigmaArcsec float64
	HeightMm, SigmaMm         float64
	WithinLimb                bool
}

// Entry is a mark with all that a log, a chart or the follower needs of it. Warnings are
// the words of those of its frame that nobody has settled, apart by semicolons.
type Entry struct {
	Mark        Mark
	Position    Position
	Frame       Frame
	Join        *Join  // with the passage it belongs to, nil when none
	PassageName string // of that passage
	Observer    string // the name of who marked it, empty when not known
	Warnings    string
}

// Bearings are all from which the positions on one frame follow.
//
//	ClockCorrectionS  of the frame's sitting
//	Site              nil when not known
//	Disc, North       nil when not found yet
type Bearings struct {
	Frame            Frame
	ClockCorrectionS float64
	Site             *Site
	Disc             *Disc
	North            *North
}
