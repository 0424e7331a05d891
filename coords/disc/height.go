package disc

import (
	"math"

	"limbwatch/coords"
)

// Height is what is known of how high something stands above the photosphere,
// in megametres. The zero value is the photosphere itself. With a SigmaMm it is
// a normal distribution cut off at the photosphere, below which nothing stands;
// where the cut bites (a SigmaMm of more than a third of Mm), its mean is
// higher than Mm.
type Height struct {
	Mm, SigmaMm float64
}

// Nodes and weights of the eight-point Gauss-Legendre rule on −1 to 1
// (Abramowitz & Stegun, table 25.4).
var (
	legendreNodes = [8]float64{
		-0.960289856497536, -0.796666477413627, -0.525532409916329, -0.183434642495650,
		0.183434642495650, 0.525532409916329, 0.796666477413627, 0.960289856497536,
	}
	legendreWeights = [8]float64{
		0.101228536290376, 0.222381034453374, 0.313706645877887, 0.362683783378362,
		0.362683783378362, 0.313706645877887, 0.222381034453374, 0.101228536290376,
	}
)

// spread gives the radii of n spheres, in radii of the photosphere, that stand
// for what the height may be, and their weights, whose sum is 1.
func (h Height) spread() (radii, weights [8]float64, n int) {
	if h.SigmaMm <= 0 {
		radii[0], weights[0] = 1+h.Mm/coords.SolarRadiusMm, 1
		return radii, weights, 1
	}
	const far = 3.5 // standard errors; beyond lies 0.05 %
	low := min(far, max(-far, -h.Mm/h.SigmaMm))
	sum := 0.0
	for i, x := range legendreNodes {
		z := (low+far)/2 + (far-low)/2*x
		radii[i] = 1 + (h.Mm+z*h.SigmaMm)/coords.SolarRadiusMm
		weights[i] = legendreWeights[i] * math.Exp(-z*z/2)
		sum += weights[i]
	}
	for i := range weights {
		weights[i] /= sum
	}
	return radii, weights, len(radii)
}
