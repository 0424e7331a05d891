package follow

import (
	"math"
	"math/rand/v2"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/rotation"
)

// What is assumed of filaments and prominences, beside their densities. Only
// proportions of these count.
const (
	// lossPerDay is the chance a day that a filament goes and does not come back: one
	// disturbance in 5 to 8 days (Serio 1978, Bryson & Malville 1978), after which two
	// thirds form again within days (from memory, no source).
	lossPerDay = 1.0 / 6.5 / 3
	// shows is how often a filament at the limb shows a prominence at all: thin and
	// low ones do not (common practice, no source).
	shows = 0.75
	// neverMarked is the part of prominences whose filament nobody marks on the disc
	// however often he looks: small, faint, or none; missed is how often one that can be
	// marked is missed in a look, missedAgain in one after that (common practice, no
	// source).
	neverMarked, missed, missedAgain = 0.15, 0.35, 0.5
)

// filamentLife is how filaments go: young ones, seen on one day only, faster, for many
// are of active regions and last for hours or days.
var filamentLife = lifetime{diesYoung: lossPerDay + 0.12, diesOld: lossPerDay, youth: 3}

// edgeDraw is one of the heights and places drawn from what they may be.
type edgeDraw struct {
	topSigmas            float64 // of the top's height, standard normal
	latSigmas, lonSigmas float64
	shape                float64 // 0 to 1, for spines that nobody drew
}

const edgeDraws = 600

// drawHeights draws the numbers that all passages share, so that they are compared
// under equal luck. They do not depend on anything but their count.
func drawHeights() []edgeDraw {
	rng := rand.New(rand.NewPCG(1908, 1226))
	out := make([]edgeDraw, edgeDraws)
	for i := range out {
		out[i] = edgeDraw{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64(), rng.Float64()}
	}
	return out
}

// topOf is a height of the top above the photosphere: the commonest is 26 Mm
// (SLIPCAT, 9477 prominences), few are above 50 (Zirin); where following found the
// height of the spine, the top stands a little above that.
func topOf(known coords.Layer, z float64) float64 {
	if known.HeightMm <= 0 {
		const median, spread = 29, 0.45
		return median * math.Exp(spread*z)
	}
	spread := math.Hypot(0.3, known.SigmaMm/known.HeightMm)
	return 1.25 * known.HeightMm * math.Exp(min(spread, 0.6)*z)
}

// standsUp is what a cloud with its foot at a place shows: the position angle and
// how high its top seems to stand above the photosphere; false when it does not
// rise above the limb.
func (m *edgeModel) standsUp(h coords.Heliographic, topMm float64) (pa coords.Angle, seemsMm float64, ok bool) {
	const least = 3 // Mm above the limb to be seen at all, 4 arcseconds
	p := m.view.ProjectPolar(h, topMm)
	if !p.Visible || p.R <= 1 {
		return 0, 0, false
	}
	seemsMm = p.R*(coords.SolarRadiusMm+m.Limb.HeightMm) - coords.SolarRadiusMm
	return p.PositionAngle, seemsMm, seemsMm > m.Limb.HeightMm+least
}

// matches is the density, per degree of position angle (and per Mm where a height was
// measured), of what was seen, when the visible parts of a filament run from one
// position angle to another and the highest seems to stand so high.
func (m *edgeModel) matches(from, to coords.Angle, seemsMm float64) float64 {
	middle := from + (to-from).Wrap180()/2
	// Nobody draws the ends alike, and a curtain hangs over its feet: a seventh of
	// its width.
	width := max(m.Width, (to - from).Wrap180().Abs())
	sigma := math.Sqrt(coords.Square(m.SigmaPA.Degrees()) + coords.Square(1.0) + coords.Square(0.15*width.Degrees()))
	miss := (m.PA - middle).Wrap180().Degrees()
	if math.Abs(miss) > 6*sigma {
		return 0
	}
	l := normal(miss, coords.Square(sigma))
	if m.Width > 0 {
		// Widths agree to four tenths of themselves, in the logarithm; 3° is the least that a
		// width means.
		have, want := math.Log(m.Width.Degrees()+3), math.Log((to-from).Wrap180().Abs().Degrees()+3)
		l *= normal(have-want, coords.Square(0.4))
	}
	if m.TopMm > 0 {
		l *= normal(m.TopMm-seemsMm, coords.Square(m.SigmaTopMm)+coords.Square(0.25*m.TopMm)+9)
	}
	return l
}

// strangers is the strength of filaments that nobody marked: how many of them per
// degree of the limb show what was seen.
func (m *edgeModel) strangers() float64 {
	// Their feet may stand anywhere within reach of the limb at any latitude near; the
	// draws spread them evenly over ±reach in longitude and around the latitude.
	const reachDeg, latReachDeg = 60.0, 25.0
	sum := 0.0
	for i, d := range m.draws {
		// Low-discrepancy places: multiples of the golden section and its square.
		u, v := frac(float64(i)*0.6180339887498949), frac(float64(i)*0.7548776662466927)
		dLon, dLat := (2*u-1)*reachDeg, (2*v-1)*latReachDeg
		lat := m.lat + degrees(dLat)
		if lat.Abs() > 90*coords.Degree {
			continue
		}
		// Lengths as quiet and active filaments have them, 3° to 20° (60 to 250 Mm).
		half := degrees(1.5 + 8.5*d.shape*d.shape)
		from, to, seems, ok := m.extent(spineOf(nil, half, d), coords.Heliographic{B: lat, L: m.limbL + degrees(dLon)}, topOf(coords.Layer{}, d.topSigmas))
		if ok {
			sum += m.density.at(lat) * m.matches(from, to, seems)
		}
	}
	perLimb := sum / float64(len(m.draws)) * (2 * reachDeg) * (2 * latReachDeg)
	// Marks show only a part of what stands there.
	return shows * perLimb / ((1 - neverMarked) * (1 - missed)) * m.unmarked()
}

func frac(x float64) float64 { return x - math.Floor(x) }

// unmarked is the part of the filaments at this edge of which no passage is known.
// They can be known from when they stood on the disc, just before the west edge or
// just after the east one, and from half a rotation away on the other side of it.
func (m *edgeModel) unmarked() float64 {
	return neverMarked + (1-neverMarked)*(1-m.knownFrom(1, 13))*(1-m.knownFrom(14, 26)*0.8)
}

// knownFrom is the chance that a filament at this edge that can be marked was, in
// the looks from so many to so many days before the west edge (after the east one),
// or as many after it (before): it lived then, and was not missed in all of them.
func (m *edgeModel) knownFrom(near, far float64) float64 {
	const formedPerDay = lossPerDay + 0.03 // young ones come and go faster
	nearest, chance := math.Inf(1), 1.0
	for _, t := range m.looks {
		days := rotation.Days(t, m.UTC)
		if m.east == (near < 13) {
			days = -days
		}
		if days < near || days > far {
			continue
		}
		nearest = min(nearest, days)
		// Misses follow each other: a faint one stays faint.
		if chance == 1 {
			chance = missed
		} else {
			chance *= missedAgain
		}
	}
	if math.IsInf(nearest, 1) {
		return 0
	}
	return math.Exp(-formedPerDay*nearest) * (1 - max(chance, 0.03))
}

// spineOf is a filament's spine as offsets from its middle in latitude and
// longitude. One that nobody drew lies nearly along the equator, by chance.
func spineOf(drawn []coords.Heliographic, half coords.Angle, d edgeDraw) []coords.Heliographic {
	if len(drawn) > 1 {
		return drawn
	}
	tilt := (d.shape - 0.5) * 120 * math.Pi / 180
	sin, cos := math.Sincos(tilt)
	var out []coords.Heliographic
	for k := -2; k <= 2; k++ {
		along := half * coords.Angle(k) / 2
		out = append(out, coords.Heliographic{B: along * coords.Angle(sin), L: along * coords.Angle(cos)})
	}
	return out
}

// extent is where the visible parts of a spine about a place stand along the limb, and
// how high the highest seems.
func (m *edgeModel) extent(spine []coords.Heliographic, at coords.Heliographic, topMm float64) (from, to coords.Angle, seemsMm float64, ok bool) {
	low, high := coords.Angle(math.Inf(1)), coords.Angle(math.Inf(-1))
	for _, o := range spine {
		b := at.B + o.B
		if b.Abs() > 90*coords.Degree {
			continue
		}
		pa, seems, up := m.standsUp(coords.Heliographic{B: b, L: at.L + o.L}, topMm)
		if !up {
			continue
		}
		d := (pa - m.PA).Wrap180()
		low, high = min(low, d), max(high, d)
		seemsMm = max(seemsMm, seems)
		ok = true
	}
	return m.PA + low, m.PA + high, seemsMm, ok
}

// weigh gives a passage's strength: the chance that it is still (already) there,
// shows, and shows just what was seen. It is false for what is no cloud or far from
// the edge.
func (m *edgeModel) weigh(i int) (c EdgeCandidate, strength float64, ok bool) {
	p := &m.passages[i]
	if len(p.Sightings) == 0 || natureOf[p.Kind] != cloud {
		return c, 0, false
	}
	first, last := p.Sightings[0], p.Sightings[len(p.Sightings)-1]
	gap := rotation.Days(last.UTC, m.UTC)
	if before := rotation.Days(m.UTC, first.UTC); before > 0 {
		gap = -before
	} else if gap < 0 {
		gap = 0 // between its sightings
	}
	if math.Abs(gap) > 22 {
		return c, 0, false
	}
	here := p.course(m.UTC)
	sigmaB := here.Cov.SigmaB()
	// The law itself is uncertain, which a state carried for days does not know.
	law := p.last.prior.law.SigmaDegPerDay(here.B) * gap
	sigmaL := coords.Angle(math.Hypot(here.Cov.SigmaL().Radians(), degrees(law).Radians()))
	c = m.mismatch(p, here, sigmaB, sigmaL, gap)
	c.Passage = i
	if c.Beyond.Abs() > 60*coords.Degree+3*sigmaL || c.MissLat.Abs() > 20*coords.Degree+4*c.SigmaLat {
		return c, 0, false
	}

	var known coords.Layer
	if i < len(m.heights) {
		known = m.heights[i]
	}
	drawn := m.drawnSpine(p)
	sum, by := 0.0, [ByItsHeight + 1]float64{}
	for _, d := range m.draws {
		half := degrees(1.5 + 8.5*d.shape*d.shape)
		at := coords.Heliographic{B: here.B + coords.Angle(d.latSigmas)*sigmaB, L: here.L + coords.Angle(d.lonSigmas)*sigmaL}
		spine := spineOf(drawn, half, d)
		from, to, seems, up := m.extent(spine, at, topOf(known, d.topSigmas))
		if !up {
			continue
		}
		if l := m.matches(from, to, seems); l > 0 {
			sum += l
			by[m.standsBy(spine, at, c.Window)] += l
		}
	}
	for stand, l := range by {
		if l > by[c.Stands] {
			c.Stands = EdgeStand(stand)
		}
	}
	lasted := rotation.Days(first.UTC, last.UTC)
	return c, filamentLife.survives(lasted, gap) * shows * sum / float64(len(m.draws)), true
}

// standsBy tells what of a filament at a place is near enough to the limb to be seen
// within a window.
func (m *edgeModel) standsBy(spine []coords.Heliographic, at coords.Heliographic, window coords.Angle) EdgeStand {
	if m.beyond(at).Abs() <= window {
		return ByItsMiddle
	}
	for _, o := range spine {
		if m.beyond(coords.Heliographic{B: at.B + o.B, L: at.L + o.L}).Abs() <= window {
			return ByAnEnd
		}
	}
	return ByItsHeight
}

// beyond is how far in longitude a place lies behind the limb; negative before it.
func (m *edgeModel) beyond(at coords.Heliographic) coords.Angle {
	edge, ok := rotation.EdgeCMD(at.B, m.view.Face)
	if !ok {
		edge = 90 * coords.Degree
	}
	return (m.side()*m.view.Face.CMD(at) - edge).Wrap180()
}

// drawnSpine is the spine of the passage's filament as it was drawn nearest in time,
// as offsets from its middle; nil when it never was.
func (m *edgeModel) drawnSpine(p *Passage) []coords.Heliographic {
	var best *Sighting
	for i := range p.Sightings {
		s := &p.Sightings[i]
		if s.Kind != catalog.Filament || len(s.Shape) < 2 || s.Closed {
			continue
		}
		// Near the limb a spine is foreshortened and half hidden.
		if s.Face.CMD(s.Place.Heliographic).Abs() > 75*coords.Degree {
			continue
		}
		if best == nil || s.UTC.Sub(m.UTC).Abs() < best.UTC.Sub(m.UTC).Abs() {
			best = s
		}
	}
	if best == nil {
		return nil
	}
	const most = 7 // points; more tell nothing that the errors leave
	step := max(1, float64(len(best.Shape)-1)/(most-1))
	var out []coords.Heliographic
	for x := 0.0; int(x+0.5) < len(best.Shape); x += step {
		h := best.Shape[int(x+0.5)]
		out = append(out, coords.Heliographic{B: h.B - best.Place.B, L: (h.L - best.Place.L).Wrap180()})
	}
	return out
}
