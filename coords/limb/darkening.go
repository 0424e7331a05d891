package limb

import (
	"math"
	"slices"
)

// darkens says whether the light within a circle falls toward it as the Sun's does toward
// its limb, I = A + B μ (μ the cosine of the angle to the line of sight) from the middle to
// the very edge. Within a stop it does not: light that is scattered about the Sun does not
// darken toward the stop, and the disc's own limb lies farther in.
func (p *plane) darkens(c circle) bool {
	const (
		farthestOff   = 0.02 // of the light in the middle
		leastDarkened = 0.15 // of it, from the middle to the limb
		directions    = 240
	)
	sin, cos := lookAround(directions)
	var mu, level []float64
	for _, r := range []float64{0.3, 0.45, 0.6, 0.7, 0.78, 0.84, 0.88, 0.91, 0.94, 0.96, 0.975} {
		var seen []float64
		for i := range sin {
			x, y := c.x+r*c.r*sin[i], c.y-r*c.r*cos[i]
			if p.inside(x, y, 1) {
				seen = append(seen, float64(p.at(x, y)))
			}
		}
		if len(seen) < directions/2 {
			return false
		}
		mu, level = append(mu, math.Sqrt(1-r*r)), append(level, medianOf(seen))
	}
	n := float64(len(mu))
	var sm, sl, smm, sml float64
	for i := range mu {
		sm, sl, smm, sml = sm+mu[i], sl+level[i], smm+mu[i]*mu[i], sml+mu[i]*level[i]
	}
	b := (n*sml - sm*sl) / (n*smm - sm*sm)
	a := (sl - b*sm) / n
	if math.Abs(b) < leastDarkened*math.Abs(a+b) {
		return false
	}
	for i := range mu {
		if math.Abs(level[i]-a-b*mu[i]) > farthestOff*math.Abs(a+b) {
			return false
		}
	}
	return true
}

// undisturbed leaves out falls that are seen in part only within a limb toward which the
// light darkens as the Sun's does: the Sun's pattern and its darkening make them by chance.
func (f finder) undisturbed(all []weighed) []weighed {
	i := slices.IndexFunc(all, func(q weighed) bool { return q.chosen && q.polarity == 0 && q.allRound() })
	if i < 0 || len(all) < 2 || !f.p.darkens(all[i].circle) {
		return all
	}
	limb := all[i].circle
	return slices.DeleteFunc(all, func(q weighed) bool { return q.polarity == 0 && q.r < limb.r && !q.allRound() })
}
