package limb

import (
	"errors"
	"math"
	"slices"

	"limbwatch/coords/picture"
)

// Find finds the Sun's limb in a picture of the whole disc or a part of it.
//
// Circles are proposed on a shrunk picture (see propose), and the limb chosen among
// them (see choose). About it other round edges are looked for (see rings) that may be
// the limb in its stead, and all are weighed by what they bound (see odds). The likeliest
// is then followed at full resolution along several hundred directions and fitted. The
// error is a *RefusedError when the picture shows no limb, none that can be trusted, or
// several of which none is likely enough.
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
	found := s.propose()
	c, unclear := choose(small, found, factor)
	f := finder{p: p, toned: pic.Depth.Bits == 8, opts: opts}
	if refused, ok := errors.AsType[*RefusedError](unclear); ok && refused.final {
		return Fit{}, unclear
	}
	rivals, several := f.among(s, small, found, c, unclear, factor)
	if unclear == nil {
		// What cuts the disc off is a rival, too, unless it lies too far off the middle.
		o, cut := s.cutBy(c, small)
		if cut && !(several && listed(rivals, c.scaled(factor)) && listed(rivals, o.scaled(factor))) {
			k := float64(factor)
			return Fit{}, refuse(c.scaled(factor), "two arcs bound the light, of circles of radius %.0f px and %.0f px that cross each other: something round cuts the disc, and which of them is the limb does not show", c.r*k, o.r*k)
		}
	}
	var fit Fit
	var err error
	switch {
	case several:
		fit, err = f.take(rivals)
	case unclear != nil:
		return Fit{}, unclear
	default:
		fit, err = f.follow(c.scaled(factor), c.sign(), float64(factor), nil)
	}
	if err != nil {
		return fit, err
	}
	return f.unlessFaint(fit)
}

// listed says whether a circle is one of several.
func listed(all []weighed, c circle) bool {
	return slices.ContainsFunc(all, func(q weighed) bool { return q.deviation(c) < sameSoft*c.r })
}

// finder is one picture in which the limb is looked for.
type finder struct {
	p     *plane
	toned bool
	opts  Options
}

// plainRing is the support of a round edge that is plainly seen, so that it stands even
// where the shrunk picture showed another, or none.
const plainRing = 0.7

// among gives the round edges about the chosen circle, ordered by odds, when there are
// several of which the limb may be any. Where none was chosen, it looks about others.
func (f finder) among(s *slopes, small *plane, found []candidate, c candidate, unclear error, factor int) ([]weighed, bool) {
	if unclear == nil {
		all := f.undisturbed(f.about(small, c, factor, true))
		return all, len(all) > 1 || len(all) == 1 && !all[0].chosen && all[0].support > plainRing
	}
	for _, c := range s.guesses(small, found) {
		all := f.about(small, c, factor, false)
		if len(all) > 1 || len(all) == 1 && all[0].support > plainRing && all[0].textured() >= 1 {
			return all, true
		}
	}
	return nil, false
}

// about weighs the round edges about a circle of the shrunk picture; and, when the
// likeliest is another circle, anew about that one: edges are seen best along rows that
// cross them at right angles.
func (f finder) about(small *plane, c candidate, factor int, was bool) []weighed {
	sign := 1.0
	if l := small.levelsAbout(candidate{circle: c.circle, falling: true}); l.far > l.inside {
		sign = -1
	}
	k := chosen{circle: c.scaled(factor), offPx: float64(factor)}
	if !was {
		k = chosen{}
	}
	all := f.p.around(c.scaled(factor), sign).weighed(k)
	if len(all) > 1 && all[0].deviation(c.scaled(factor)) > sameEdge*all[0].r {
		if anew := f.p.around(all[0].circle, sign).weighed(k); len(anew) > 1 {
			return anew
		}
	}
	return all
}

// guesses are circles to look about when none was chosen: the best supported one, and
// one of the size and the place of the light.
func (s *slopes) guesses(small *plane, found []candidate) []candidate {
	var all []candidate
	if len(found) > 0 {
		all = append(all, found[0])
	}
	return append(all, candidate{circle: small.light(), falling: true})
}

// light is a circle with the area and the centre of what is brighter than half-way
// between the darkest and the brightest tenth of the picture; or of what is darker,
// where the border is bright.
func (p *plane) light() circle {
	levels := make([]float64, 0, len(p.v)/7+1)
	for i := 0; i < len(p.v); i += 7 {
		levels = append(levels, float64(p.v[i]))
	}
	slices.Sort(levels)
	half := (levels[len(levels)/10] + levels[len(levels)*9/10]) / 2
	var border, bordered float64
	for x := range p.w {
		border += float64(p.v[x]) + float64(p.v[(p.h-1)*p.w+x])
		bordered += 2
	}
	bright := border/bordered < half
	var n, sx, sy float64
	for i, v := range p.v {
		if (float64(v) > half) == bright {
			n++
			sx += float64(i % p.w)
			sy += float64(i / p.w)
		}
	}
	n = max(n, 1)
	return circle{sx / n, sy / n, math.Sqrt(n / math.Pi)}
}
