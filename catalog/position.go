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
//	UTC      the instant used: the middle of the exposure on a corrected clock
//	Reason   why there is no position, in words; empty when there is one
//	PA, R    of the representative point: position angle from celestial north
//	         through east, and distance from the centre in radii of the frame's limb
//	         (of the photosphere where there is no picture); nil when north or disc
//	         is not known
//	Disc     the part on the disc, nil when all lies beyond the limb
//	Edge     the part beyond the limb, nil when all lies on the disc
type Position struct {
	Mark   MarkID
	UTC    time.Time
	Reason string
	Polar  *PolarPoint
	Disc   *OnDisc
	Edge   *AtEdge
}

// OnDisc is the position of a mark on the disc.
//
//	Flat      as on the photosphere: what published positions are
//	CMD       its central meridian distance, west positive
//	Mu        cosine between the surface normal and the line of sight
//	High      corrected for height, with the error of the height folded in; nil for
//	          what lies on the photosphere
//	Height    the height used for High
//	NearLimb  the limb is nearer than the error allows to tell the side
//
// A Cov of zero means that no error is known.
type OnDisc struct {
	Flat     coords.Measured
	CMD      coords.Angle
	Mu       float64
	High     *coords.Measured
	Height   coords.Layer
	NearLimb bool
}

// Reading is the best place on the Sun: corrected for height where that applies.
func (d OnDisc) Reading() coords.Measured {
	if d.High != nil {
		return *d.High
	}
	return d.Flat
}

// AtEdge is the position of what stands beyond the limb. Such a mark has a
// position angle, the latitude of the limb there, and the longitude of that limb
// point, which is not its own longitude: its foot may lie before or behind.
//
//	PA, SigmaPA          mean of what stands beyond the limb
//	From, To             of its two ends along the limb, going through east
//	TopPA                of its highest point
//	Lat, SigmaLat, Lon   of the limb point under PA
//	HeightArcsec         of the top above the frame's limb, with its error
//	HeightMm             of the top above the photosphere, with its error
type AtEdge struct {
	PA, SigmaPA               coords.Angle
	From, To, TopPA           coords.Angle
	Lat, SigmaLat, Lon        coords.Angle
	HeightArcsec, SigmaArcsec float64
	HeightMm, SigmaMm         float64
}

// Entry is a mark with all that a log, a chart or the follower needs of it.
type Entry struct {
	Mark     Mark
	Position Position
	Frame    Frame
	Join     *Join    // the passage it belongs to, nil when none
	Passage  *Passage // the same, nil when none
}
