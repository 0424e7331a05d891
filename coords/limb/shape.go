package limb

import "math"

// The edge of a disc that is evenly bright is, blurred, steepest just where it
// was before. The Sun's is not even: it darkens toward the limb, and the blurred
// edge is steepest up to some tenths of the blur further in. So the zero point
// of all edge positions comes from a model of the mean profile across the limb.

// shape is the model fitted to a mean profile: a step and limb darkening seen
// through a point-spread function.
//
//	zeroPx   place of the step, outside of the profile's own zero
//	sigmaPx  sigma of the blur
//	drop     brightness just inside less outside
//	misfit   rms of what the model leaves, in units of drop
//	zeroSigmaPx  formal error of zeroPx
//	plain        not by the model but by the middle of the fall
type shape struct {
	zeroPx, sigmaPx, drop, misfit, zeroSigmaPx float64
	plain                                      bool
}

// profile is brightness against distance from a circle.
type profile struct {
	from, step float64
	v          []float64
	radiusPx   float64
}

func (p profile) rho(k int) float64 { return p.from + float64(k)*p.step }

// chromospherePx is how far inside the H-alpha limb the photosphere ends, where
// darkening may begin: 0.62 % of the radius (see Layer Chromosphere).
const chromosphereShare = 0.0062

// terms of the model that are linear, at a point t px outside the step, for a
// blur sigma:
//
//	a level everywhere; the step; a second, three times wider blur of the step
//	(negative where a picture was sharpened, positive for wings of the light);
//	limb darkening as μ = √(2(−t)/R) from the step inward, and from the
//	photosphere's edge inward if that lies deeper; the slope of the light outside.
func (p profile) terms(t, sigma float64, out *[6]float64) {
	u := t / sigma
	out[0] = 1
	out[1] = 0.5 * math.Erfc(u/math.Sqrt2)
	out[2] = 0.5*math.Erfc(u/(3*math.Sqrt2)) - out[1]
	out[3] = p.darkening(t, sigma)
	out[4] = p.darkening(t+chromosphereShare*p.radiusPx, sigma)
	out[5] = t*(1-out[1]) + sigma*math.Exp(-u*u/2)/math.Sqrt(2*math.Pi)
}

func (p profile) darkening(t, sigma float64) float64 {
	if t > 4*sigma {
		return 0
	}
	mean := rootBlur(t / sigma)
	// μ² = 2s/R − s²/R² with s the depth below the edge.
	depth := math.Max(0, -t)
	return math.Sqrt(2*sigma/p.radiusPx) * mean * math.Sqrt(math.Max(0, 1-depth/(2*p.radiusPx)))
}

// rootBlur is √max(0, −u) seen through a Gaussian of sigma 1. It is tabulated.
func rootBlur(u float64) float64 {
	if u < rootBlurFrom {
		return math.Sqrt(-u) * (1 - 0.125/(u*u)) // series for a smooth function
	}
	k := (u - rootBlurFrom) / rootBlurStep
	i := int(k)
	if i+1 >= len(rootBlurTable) {
		return 0
	}
	return rootBlurTable[i] + (k-float64(i))*(rootBlurTable[i+1]-rootBlurTable[i])
}

const (
	rootBlurFrom = -6.0
	rootBlurStep = 1.0 / 32
)

var rootBlurTable = makeRootBlurTable()

func makeRootBlurTable() []float64 {
	table := make([]float64, int(11/rootBlurStep)+1)
	for i := range table {
		u := rootBlurFrom + float64(i)*rootBlurStep
		// ∫ √s φ(u+s) ds over s > 0, with s = q² to take the root's edge off.
		const dq = 1.0 / 128
		sum := 0.0
		for q := dq / 2; q < 4; q += dq {
			s := q * q
			sum += 2 * q * q * math.Exp(-(u+s)*(u+s)/2) * dq
		}
		table[i] = sum / math.Sqrt(2*math.Pi)
	}
	return table
}

// nTerms linear terms, then the derivatives by the step's place and by ln sigma.
const nTerms = 6

// fitShape finds the step's place and the blur from a start, by the
// Gauss–Newton method on all terms at once (the linear ones are exact in each
// step: variable projection, Kaufman 1975, BIT 15, 49). Columns that are not used
// are left out. It is false when the profile shows no step.
func (p profile) fitShape(zero, sigma float64, used []bool) (shape, bool) {
	coef, rss, ok := p.solve(zero, sigma, used)
	if !ok {
		return shape{}, false
	}
	n := 0
	for _, u := range used {
		if u {
			n++
		}
	}
	if n < nTerms+4 {
		return shape{}, false
	}
	s := shape{zeroPx: zero, sigmaPx: sigma}
	for range 25 {
		dz, ds, variance, ok := p.advance(s.zeroPx, s.sigmaPx, coef, used)
		if !ok {
			return shape{}, false
		}
		dz = max(-s.sigmaPx, min(s.sigmaPx, dz))
		ds = max(-0.4, min(0.4, ds))
		improved := false
		for range 5 {
			z, w := s.zeroPx+dz, max(0.2, s.sigmaPx*math.Exp(ds))
			c, r, ok := p.solve(z, w, used)
			if ok && r <= rss {
				improved = rss-r > 1e-6*rss
				s.zeroPx, s.sigmaPx, coef, rss = z, w, c, r
				break
			}
			dz, ds = dz/3, ds/3
		}
		s.zeroSigmaPx = math.Sqrt(variance * rss / float64(n-nTerms-2))
		if !improved {
			break
		}
	}
	s.drop = coef[1]
	if !(s.drop > 0) || math.IsNaN(s.zeroPx) {
		return shape{}, false
	}
	s.misfit = math.Sqrt(rss/float64(n-nTerms-2)) / s.drop
	return s, true
}

// solve finds the linear terms by least squares for a given step and blur, and
// gives the sum of squared residuals.
func (p profile) solve(zero, sigma float64, used []bool) (coef [nTerms]float64, rss float64, ok bool) {
	n := newNormal(nTerms)
	var row [nTerms]float64
	for k, v := range p.v {
		if used[k] {
			p.terms(p.rho(k)-zero, sigma, &row)
			n.add(row[:], v)
		}
	}
	x, _, ok := n.solve(1e-6)
	if !ok {
		return coef, 0, false
	}
	copy(coef[:], x)
	for k, v := range p.v {
		if used[k] {
			d := v - p.model(p.rho(k)-zero, sigma, coef)
			rss += d * d
		}
	}
	return coef, rss, true
}

func (p profile) model(t, sigma float64, coef [nTerms]float64) (v float64) {
	var row [nTerms]float64
	p.terms(t, sigma, &row)
	for i, c := range coef {
		v += c * row[i]
	}
	return v
}

// advance gives the next step in place and ln sigma, and the variance of the
// place for residuals of variance 1.
func (p profile) advance(zero, sigma float64, coef [nTerms]float64, used []bool) (dz, dlnσ, variance float64, ok bool) {
	n := newNormal(nTerms + 2)
	row := make([]float64, nTerms+2)
	var terms [nTerms]float64
	const h = 1e-3
	for k, v := range p.v {
		if !used[k] {
			continue
		}
		t := p.rho(k) - zero
		p.terms(t, sigma, &terms)
		copy(row, terms[:])
		row[nTerms] = (p.model(t-h*sigma, sigma, coef) - p.model(t+h*sigma, sigma, coef)) / (2 * h * sigma)
		row[nTerms+1] = (p.model(t, sigma*(1+h), coef) - p.model(t, sigma*(1-h), coef)) / (2 * h)
		n.add(row, v-p.model(t, sigma, coef))
	}
	x, inv, ok := n.solve(1e-6)
	if !ok {
		return 0, 0, 0, false
	}
	return x[nTerms], x[nTerms+1], inv[nTerms][nTerms], true
}
