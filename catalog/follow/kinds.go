package follow

import (
	"math"

	"limbwatch/catalog"
)

// likelihood is the chance of the kinds of the marks seen, for each nature that
// the feature may have.
type likelihood [natures]float64

// kindLikelihood is the chance of one mark's kind. A cloud is a filament before
// the disc and a prominence beyond the limb; within some twenty degrees of it
// either word may be used.
func kindLikelihood(k catalog.Kind, cmdDeg, mistakes float64) likelihood {
	var l likelihood
	for t := range l {
		l[t] = mistakes / float64(natures-1)
	}
	own := natureOf[k]
	l[own] = 1 - mistakes
	if own != cloud {
		return l
	}
	edge := 1 / (1 + math.Exp(-(math.Abs(cmdDeg)-75)/4)) // 0 before the disc, 1 at the limb
	asProminence := 0.02 + 0.58*edge
	for t := range l {
		if k == catalog.Prominence {
			l[t] *= asProminence
		} else {
			l[t] *= 1 - asProminence
		}
	}
	return l
}

// times joins the evidence of independent marks. Only the proportions count, so
// the sum is kept at 1. However many marks say so, no nature is quite ruled out: they
// may all be of one mistake.
func (l likelihood) times(o likelihood) likelihood {
	const least = 1e-12
	sum := 0.0
	for t := range l {
		l[t] *= o[t]
		sum += l[t]
	}
	for t := range l {
		l[t] = max(l[t]/sum, least)
	}
	return l
}

func (l likelihood) dot(o likelihood) float64 {
	sum := 0.0
	for t := range l {
		sum += l[t] * o[t]
	}
	return sum
}

func (l likelihood) sum() float64 {
	sum := 0.0
	for _, v := range l {
		sum += v
	}
	return sum
}

// best is the most probable nature.
func (l likelihood) best() nature {
	top := nature(0)
	for t := range l {
		if l[t] > l[top] {
			top = nature(t)
		}
	}
	return top
}
