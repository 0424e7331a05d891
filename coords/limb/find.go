package limb

import (
	"errors"
	"math"

	"limbwatch/coords/picture"
)

// Find finds the Sun's limb in a picture of the whole disc or a part of it.
//
// Circles are proposed on a shrunk picture (see propose), and the limb chosen
// among them (see choose). It is then followed at full resolution along several
// hundred directions and fitted. The error is a *RefusedError when the picture
// shows no limb, or none that can be trusted.
func Find(pic *picture.Picture, opts Options) (Fit, error) {
	if pic == nil || pic.Width < 32 || pic.Height < 32 || len(pic.Grey) != pic.Width*pic.Height {
		return Fit{}, errors.New("picture is smaller than 32 x 32 pixels")
	}
	p := &plane{w: pic.Width, h: pic.Height, v: pic.Grey}
	if pic.Saturated > 0 {
		p.white = pic.SaturationLevel
	}
	factor := max(1, int(math.Round(float64(max(p.w, p.h))/coarsePx)))
	small := p.shrink(factor)
	s := slopesOf(small.smooth())
	c, err := choose(small, s.propose(), factor)
	if err != nil {
		return Fit{}, err
	}
	if o, cut := s.cutBy(c, small); cut {
		k := float64(factor)
		return Fit{}, refuse(c.scaled(factor), "two arcs bound the light, of circles of radius %.0f px and %.0f px that cross each other: something round cuts the disc, and which of them is the limb does not show", c.r*k, o.r*k)
	}
	return follow(p, c, factor, pic.Depth.Bits == 8, opts)
}
