package paint

import (
	"math"
	"math/rand/v2"
	"sync"

	"limbwatch/coords"
)

// Sources of chance. Each use of a seed has its own stream, so that a picture
// with other noise still has the same cloud.
const (
	streamNoise uint64 = iota + 1
	streamWobble
	streamFringe
	streamCloud
	streamMottle
	streamFeature
	streamPopulation
)

func stream(seed, use uint64) *rand.Rand {
	return rand.New(rand.NewPCG(seed, use*0x9E3779B97F4A7C15))
}

// gaussTable holds 2^14 evenly likely values of the normal distribution: drawing
// one of them costs a fraction of drawing a true one, and its tail ends at 4 sigma.
var gaussTable = sync.OnceValue(func() *[1 << 14]float32 {
	var t [1 << 14]float32
	for i := range t {
		p := (float64(i) + 0.5) / float64(len(t))
		t[i] = float32(math.Sqrt2 * math.Erfinv(2*p-1))
	}
	return &t
})

// gaussFill fills dst with normal deviates of mean 0, sigma 1.
func gaussFill(dst []float32, state uint64) uint64 {
	t := gaussTable()
	for i := 0; i < len(dst); i += 4 {
		// SplitMix64 (Steele, Lea & Flood 2014): one step gives four deviates.
		state += 0x9E3779B97F4A7C15
		z := state
		z = (z ^ z>>30) * 0xBF58476D1CE4E5B9
		z = (z ^ z>>27) * 0x94D049BB133111EB
		z ^= z >> 31
		for k := i; k < min(i+4, len(dst)); k++ {
			dst[k] = t[z&(1<<14-1)]
			z >>= 16
		}
	}
	return state
}

// ring is noise around a circle: mean 0, rms 1, Gaussian-correlated, tabulated
// over the angle from 0 to 2π.
type ring []float32

const ringSize = 4096

func newRing(rng *rand.Rand, correlation float64) ring {
	white := make([]float64, ringSize)
	for i := range white {
		white[i] = rng.NormFloat64()
	}
	// Smoothing white noise by a Gaussian of σ = ℓ/√2 gives correlation
	// exp(−Δ²/2ℓ²).
	sigma := math.Max(0.5, correlation/(2*math.Pi)*ringSize/math.Sqrt2)
	half := min(int(4*sigma)+1, ringSize/2-1)
	weights := make([]float64, half+1)
	sumSq := 0.0
	for k := range weights {
		weights[k] = math.Exp(-coords.Square(float64(k)/sigma) / 2)
		sumSq += coords.Square(weights[k])
	}
	norm := 1 / math.Sqrt(2*sumSq-1)
	out := make(ring, ringSize)
	for i := range out {
		s := white[i] * weights[0]
		for k := 1; k <= half; k++ {
			s += weights[k] * (white[(i+k)%ringSize] + white[(i-k+ringSize)%ringSize])
		}
		out[i] = float32(s * norm)
	}
	return out
}

// at takes the angle in radians, −π to π.
func (g ring) at(angle float64) float32 {
	k := (angle + math.Pi) * (ringSize / (2 * math.Pi))
	i := int(k)
	w := float32(k - float64(i))
	a, b := g[i&(ringSize-1)], g[(i+1)&(ringSize-1)]
	return a + w*(b-a)
}

// noise3 is smooth noise over space: about −1 to 1, features of size about 1.
// Values at the points of a lattice, hashed from their place and the seed, with
// quintic interpolation between them.
func noise3(x, y, z float64, seed uint64) float64 {
	fx, fy, fz := math.Floor(x), math.Floor(y), math.Floor(z)
	ix, iy, iz := int64(fx), int64(fy), int64(fz)
	u, v, w := fade(x-fx), fade(y-fy), fade(z-fz)
	c := func(dx, dy, dz int64) float64 { return latticeValue(ix+dx, iy+dy, iz+dz, seed) }
	lerp := func(t, a, b float64) float64 { return a + t*(b-a) }
	return lerp(w,
		lerp(v, lerp(u, c(0, 0, 0), c(1, 0, 0)), lerp(u, c(0, 1, 0), c(1, 1, 0))),
		lerp(v, lerp(u, c(0, 0, 1), c(1, 0, 1)), lerp(u, c(0, 1, 1), c(1, 1, 1))))
}

func fade(t float64) float64 { return t * t * t * (t*(t*6-15) + 10) }

func latticeValue(x, y, z int64, seed uint64) float64 {
	h := seed ^ uint64(x)*0x9E3779B97F4A7C15 ^ uint64(y)*0xC2B2AE3D27D4EB4F ^ uint64(z)*0x165667B19E3779F9
	h = (h ^ h>>29) * 0xBF58476D1CE4E5B9
	h = (h ^ h>>32) * 0x94D049BB133111EB
	h ^= h >> 29
	return float64(int64(h)) / (1 << 63)
}

// fractal sums octaves of noise3.
func fractal(x, y, z float64, octaves int, seed uint64) float64 {
	sum, amp, norm := 0.0, 1.0, 0.0
	for range octaves {
		sum += amp * noise3(x, y, z, seed)
		norm += amp
		x, y, z = 2*x+17.3, 2*y-5.1, 2*z+31.7
		amp /= 2
		seed++
	}
	return sum / norm
}
