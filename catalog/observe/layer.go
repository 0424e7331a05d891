package observe

import (
	"limbwatch/catalog"
	"limbwatch/coords"
)

// limbPrior is which limb a picture is likely to show, by the filter and what the
// exposure was made for.
//
// A filter of some angstrom and more passes the photosphere beside the line: its
// edge is that of white light. A narrow one, or two in one another, shows the
// chromosphere's edge (Johannesson & Zirin 1996). Between, and where the filter is
// not known, both edges are possible, and the error spans them. An exposure for
// prominences burns the disc out to the chromospheric edge. The passbands at which
// one ends and the other begins: common practice, no source.
func limbPrior(s catalog.Setup, role catalog.Role) coords.Layer {
	const wide, narrow = 5, 0.6 // angstrom
	either := coords.Layer{HeightMm: 2.2, SigmaMm: 2.2}
	switch {
	case s.PassbandA > wide:
		return coords.Layer{HeightMm: 0, SigmaMm: 0.3}
	case role == catalog.RoleLimb, s.Stacked > 1, s.PassbandA > 0 && s.PassbandA <= narrow:
		return coords.Layer{HeightMm: coords.Chromosphere.HeightMm, SigmaMm: 1}
	}
	return either
}
