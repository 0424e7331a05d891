package limb

import "math"

// The edge of a disc that is evenly bright is, blurred, steepest just where it
// was before. The Sun's is not even: it darkens toward the limb, and the blurred
// edge is steepest up to some tenths of the blur further in. So the zero point
// of all edge positions comes from a model of the mean profile across the limb.

// shape is what was found in a mean profile.
//
//	zeroPx       place of the limb, outside of the profile's own zero
//	zeroSigmaPx  its standard error
//	fallPx       middle of the steepest fall
//	sigmaPx      sigma of the blur
//	drop         brightness just inside less outside
//	misfit       rms of what the model leaves, in units of drop
//	innerPx      how far inside the limb a second step lies; 0 for none
//	plain        found as the middle of the fall, not by a model
//	burnt        the disc is over-exposed at the limb
type shape struct {
	zeroPx, zeroSigmaPx, fallPx, sigmaPx, drop, misfit, innerPx float64
	plain, burnt                                                bool
	coef                                                        [nTerms]float64
}

// chromosphereShare is how far inside the H-alpha limb the photosphere ends, where
// darkening may begin: 0.62 % of the radius (see Layer Chromosphere).
const chromosphereShare = 0.0062

// fringeShare is the height in which spicules beyond the H-alpha limb fade to 1/e,
// in radii: some 1.5 Mm (common practice, no source).
const fringeShare = 0.0022

// The linear terms of the model.
const (
	termLevel     = iota // light everywhere
	termStep             // the limb
	termSlope            // change of the light outside with distance
	termBend             // curvature of the light outside: the foot of a steep halo
	termFringe           // spicules, fading outward of the limb
	termDarkening        // μ from the limb inward
	termDeeper           // μ from the photosphere's edge inward, where that lies deeper
	termInner            // the photosphere's own step
	termSoft             // the limb half as blurred again: with the next, sharpening and wings of the light
	termWings            // the limb three times as blurred
	nTerms
)

// model is a set of terms.
type model [nTerms]bool

func modelOf(terms ...int) model {
	var m model
	for _, t := range append(terms, termLevel, termStep, termSlope, termFringe) {
		m[t] = true
	}
	return m
}

// models are tried in this order: a disc that darkens to its limb; one that ends
// in an even rim; both; two limbs.
var models = []model{
	modelOf(termDarkening),
	modelOf(termDeeper),
	modelOf(termDarkening, termDeeper),
	modelOf(termDeeper, termInner),
}

// terms of the model at a point t px outside the limb, for a blur sigma.
func (p profile) terms(m model, t, sigma float64, out *[nTerms]float64) {
	u := t / sigma
	inside := 0.5 * math.Erfc(u/math.Sqrt2)
	out[termLevel] = 1
	out[termStep] = inside
	out[termSlope] = t*(1-inside) + sigma*math.Exp(-u*u/2)/math.Sqrt(2*math.Pi)
	if m[termBend] {
		out[termBend] = (t*t+sigma*sigma)*(1-inside) + t*sigma*math.Exp(-u*u/2)/math.Sqrt(2*math.Pi)
	}
	if scale := fringeShare * p.radiusPx; sigma < 8*scale {
		out[termFringe] = math.Exp(sigma*sigma/(2*scale*scale)-t/scale) * 0.5 * math.Erfc((sigma/scale-u)/math.Sqrt2)
	}
	deep := chromosphereShare * p.radiusPx
	if m[termDarkening] {
		out[termDarkening] = p.darkening(t, sigma)
	}
	if m[termDeeper] {
		out[termDeeper] = p.darkening(t+deep, sigma)
	}
	if m[termInner] {
		out[termInner] = 0.5 * math.Erfc((t+deep)/(sigma*math.Sqrt2))
	}
	if m[termSoft] {
		out[termSoft] = 0.5*math.Erfc(u/(1.5*math.Sqrt2)) - inside
		out[termWings] = 0.5*math.Erfc(u/(3*math.Sqrt2)) - inside
	}
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

// profileNoise is how well a mean profile can follow a model, as a share of the
// step: texture and prominences leave about that much in it.
const profileNoise = 0.0003

// loose is how large each linear term may be expected to be, as a share of the
// step. It holds terms that the data cannot tell apart near zero.
var loose = [nTerms]float64{
	termLevel: 1e3, termStep: 1e3, termSlope: 0.1, termBend: 0.005, termFringe: 0.15,
	termDarkening: 5, termDeeper: 5, termInner: 5, termSoft: 3, termWings: 0.5,
}

// fit finds the limb's place and the blur from a start, by the Gauss–Newton
// method on all terms at once (the linear ones are exact in each step: variable
// projection, Kaufman 1975, BIT 15, 49). It is false when the model finds no step
// or a senseless one.
func (p profile) fit(m model, zero, sigma float64, used []bool) (shape, bool) {
	n := 0
	for _, u := range used {
		if u {
			n++
		}
	}
	coef, rss, ok := p.solve(m, zero, sigma, used)
	if !ok || n < nTerms+3 {
		return shape{}, false
	}
	s := shape{zeroPx: zero, sigmaPx: sigma}
	for range 20 {
		dz, ds, variance, ok := p.advance(m, s.zeroPx, s.sigmaPx, coef, used)
		if !ok {
			return shape{}, false
		}
		dz = max(-s.sigmaPx, min(s.sigmaPx, dz))
		ds = max(-0.4, min(0.4, ds))
		improved := false
		for range 4 {
			z, w := s.zeroPx+dz, max(0.2, s.sigmaPx*math.Exp(ds))
			c, r, ok := p.solve(m, z, w, used)
			if ok && r <= rss {
				improved = rss-r > 1e-3*rss
				s.zeroPx, s.sigmaPx, coef, rss = z, w, c, r
				break
			}
			dz, ds = dz/3, ds/3
		}
		s.zeroSigmaPx = math.Sqrt(variance)
		if !improved {
			break
		}
	}
	s.drop, s.coef = coef[termStep], coef
	if m[termInner] {
		s.drop += coef[termInner]
		s.innerPx = chromosphereShare * p.radiusPx
	}
	s.misfit = math.Sqrt(rss/float64(n)) / s.drop
	s.zeroSigmaPx *= max(profileNoise, 2*s.misfit) * s.drop
	return s, s.sensible(m)
}

// sensible says whether a model's terms are such as a limb can have; the profile
// is in units of its steepest fall.
func (s shape) sensible(m model) bool {
	c := s.coef
	most := 1.7
	if m[termInner] {
		most *= 2 // the steepest fall may be one of the two only
	}
	switch {
	case math.IsNaN(s.zeroPx), !(s.drop > 0.3 && s.drop < most):
		return false
	case c[termStep] < 0.15*s.drop, m[termInner] && c[termInner] < 0.1*s.drop:
		return false
	case c[termDarkening]*c[termDeeper] < 0, math.Abs(c[termDarkening]+c[termDeeper]) > 8:
		return false
	}
	return math.Abs(c[termFringe]) < 0.4*s.drop
}

// solve finds the linear terms by least squares for a given place and blur, and
// gives the sum of squared residuals.
func (p profile) solve(m model, zero, sigma float64, used []bool) (coef [nTerms]float64, rss float64, ok bool) {
	n := newNormal(nTerms)
	rows := make([][nTerms]float64, len(p.v))
	for k, v := range p.v {
		if used[k] {
			p.terms(m, p.rho(k)-zero, sigma, &rows[k])
			n.add(rows[k][:], v)
		}
	}
	hold(n, coef)
	x, _, ok := n.solve(1e-9)
	if !ok {
		return coef, 0, false
	}
	copy(coef[:], x)
	for k, v := range p.v {
		if used[k] {
			d := v - dot(coef, rows[k])
			rss += d * d
		}
	}
	for j, c := range coef {
		d := c * profileNoise / loose[j]
		rss += d * d
	}
	return coef, rss, true
}

// hold adds the expectation that the terms are as small as loose says.
func hold(n *normal, coef [nTerms]float64) {
	for j, l := range loose {
		held := (profileNoise / l) * (profileNoise / l)
		n.a[j][j] += held
		n.b[j] -= held * coef[j]
	}
}

func dot(coef, row [nTerms]float64) (v float64) {
	for i, c := range coef {
		v += c * row[i]
	}
	return v
}

// advance gives the next step in place and ln sigma, and the variance of the
// place for residuals of variance 1.
func (p profile) advance(m model, zero, sigma float64, coef [nTerms]float64, used []bool) (dz, dlnσ, variance float64, ok bool) {
	n := newNormal(nTerms + 2)
	row := make([]float64, nTerms+2)
	const h = 1e-3
	at := func(t, sigma float64) float64 {
		var terms [nTerms]float64
		p.terms(m, t, sigma, &terms)
		return dot(coef, terms)
	}
	for k, v := range p.v {
		if !used[k] {
			continue
		}
		t := p.rho(k) - zero
		var terms [nTerms]float64
		p.terms(m, t, sigma, &terms)
		copy(row, terms[:])
		here := dot(coef, terms)
		row[nTerms] = (here - at(t+h*sigma, sigma)) / (h * sigma)
		row[nTerms+1] = (at(t, sigma*(1+h)) - here) / h
		n.add(row, v-here)
	}
	hold(n, coef)
	x, inv, ok := n.solve(1e-9)
	if !ok {
		return 0, 0, 0, false
	}
	return x[nTerms], x[nTerms+1], inv[nTerms][nTerms], true
}
