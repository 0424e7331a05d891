package follow

import (
	"fmt"
	"math"
	"time"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/rotation"
)

// side is +1 for the west, −1 for the east edge.
func (m *edgeModel) side() coords.Angle {
	if m.east {
		return -1
	}
	return 1
}

// usualTopMm stands for a height that was not measured: the commonest of
// prominences, SLIPCAT.
const usualTopMm = 26

// window is how far in longitude behind the limb, or before it, the foot of a cloud
// may be that rises above the limb: asin(sin a / cos b) with
// the reach a of its height.
func (m *edgeModel) window(lat coords.Angle, topMm float64) coords.Angle {
	sin := disc.Reach(topMm, m.Limb).Sin() / lat.Cos()
	if sin >= 1 {
		return 90 * coords.Degree
	}
	return coords.Asin(sin)
}

// mismatch measures a passage's predicted place against the prominence.
func (m *edgeModel) mismatch(p *Passage, here coords.Measured, sigmaB, sigmaL coords.Angle, gap float64) EdgeCandidate {
	c := EdgeCandidate{GapDays: gap, SigmaLon: sigmaL}
	top := m.TopMm
	if top <= m.Limb.HeightMm {
		top = usualTopMm
	}
	// What is seen is the latitude of the limb under the top, which is not that of a
	// foot before or behind the limb. Of the spine, the part that comes nearest.
	seen := func(dB, dL coords.Angle) coords.Angle {
		foot := coords.Heliographic{B: here.B + dB, L: (here.L + dL).Wrap360()}
		return m.view.Foot(foot, top).Read.B - m.lat
	}
	c.MissLat, c.Beyond = seen(0, 0), m.beyond(here.Heliographic)
	c.Nearest = c.Beyond
	for _, o := range m.drawnSpine(p) {
		c.Drawn = true
		if d := seen(o.B, o.L); d.Abs() < c.MissLat.Abs() {
			c.MissLat = d
		}
		if d := m.beyond(coords.Heliographic{B: here.B + o.B, L: here.L + o.L}); d.Abs() < c.Nearest.Abs() {
			c.Nearest = d
		}
	}
	c.SigmaLat = coords.Angle(math.Hypot(sigmaB.Radians(), m.sigmaLat.Radians()))
	c.Window = m.window(here.B, top)
	outside := max(0, c.Beyond.Abs()-c.Window)
	c.MissSigma = math.Hypot(float64(c.MissLat/c.SigmaLat), float64(outside/sigmaL))

	perDay := p.last.prior.law.SynodicDegPerDay(here.B, m.UTC)
	days := func(a coords.Angle) time.Duration {
		return time.Duration(a.Degrees() / perDay * 24 * float64(time.Hour))
	}
	// Both edges are passed from east to west: behind the west limb is after it,
	// behind the east limb before.
	c.LimbPassage = m.UTC.Add(-days(m.side() * c.Beyond)).Round(time.Minute)
	c.SigmaPassage = days(sigmaL).Round(time.Minute)
	c.From, c.To = c.LimbPassage.Add(-days(c.Window)).Round(time.Minute), c.LimbPassage.Add(days(c.Window)).Round(time.Minute)
	c.Way = m.wayOf(p, gap)
	return c
}

// wayOf tells how a passage would have come to the edge.
func (m *edgeModel) wayOf(p *Passage, gap float64) EdgeWay {
	nearest := p.Sightings[0]
	if gap >= 0 {
		nearest = p.Sightings[len(p.Sightings)-1]
	}
	cmd := nearest.Face.CMD(nearest.Place.Heliographic)
	switch {
	case gap >= 0 && m.east && gap > 8 && cmd > -60*coords.Degree:
		return Returned
	case gap < 0 && !m.east && gap < -8:
		return WillReturn
	case gap >= 0 && !m.east:
		return JustCrossed
	case gap < 0:
		return CameOn
	}
	return OnDisc
}

// EdgeLook is an observation that would decide a check.
//
//	UTC  when, to the hour; PA, R where in the picture (radii of the photosphere),
//	     Lat and CMD where on the Sun
//	Why  what is to be looked for
type EdgeLook struct {
	UTC      time.Time
	PA       coords.Angle
	R        float64
	Lat, CMD coords.Angle
	Why      string
}

// conclude puts the answer in words and says what would decide it.
func (m *edgeModel) conclude(out *Edge) {
	// Nothing that came after (in the west: before) has been looked at.
	blind := m.knownFrom(1, 13) == 0
	best := 0.0
	if len(out.Candidates) > 0 {
		best = out.Candidates[0].Probability
	}
	out.Word = wordFor(best)
	switch {
	case best >= 0.25:
		c := out.Candidates[0]
		out.Reason = fmt.Sprintf("a filament that %s fits to %.1f° in latitude (%.1f sigma); %s",
			c.Way, c.MissLat.Abs().Degrees(), float64((c.MissLat / c.SigmaLat).Abs()), where(c))
		if len(out.Candidates) > 1 && out.Candidates[1].Probability > best/3 {
			out.Reason += ", but another one fits too"
			for _, k := range out.Kin {
				if k.Earlier+k.Later == 1 { // the first and the second
					out.Reason += fmt.Sprintf(", which may be the same cloud (odds %.2f)", k.Odds)
				}
			}
		}
	case blind && m.east:
		out.Word = CannotSay
		out.Reason = "at the east edge the filament appears after its prominence, and nothing has been looked at since"
	case blind:
		out.Word = CannotSay
		out.Reason = "the disc was not looked over in the days when its filament would have been on it"
	case len(out.Candidates) == 0:
		out.Reason = "no filament known comes near this part of the limb then"
	default:
		c := out.Candidates[0]
		out.Reason = fmt.Sprintf("the best filament is off by %.1f° in latitude (%.1f sigma); %s",
			c.MissLat.Abs().Degrees(), float64((c.MissLat / c.SigmaLat).Abs()), where(c))
	}
	if out.Word == CannotSay && best >= 0.1 {
		out.Reason += fmt.Sprintf("; a filament that %s may be it", out.Candidates[0].Way)
	}
	out.Looks = m.looksThatDecide(out.Candidates)
}

// where says where a candidate stood, and why it can be seen there, or cannot: by what
// its odds rest on.
func where(c EdgeCandidate) string {
	stood := fmt.Sprintf("its middle then stood %.0f° ± %.0f° %s", c.Beyond.Abs().Degrees(), c.SigmaLon.Degrees(), beforeOrBehind(c.Beyond))
	window := fmt.Sprintf("within %.0f° of it", c.Window.Degrees())
	switch {
	case c.Beyond.Abs() <= c.Window:
		return stood + ", and a cloud so high is seen " + window
	case c.Stands == ByItsMiddle:
		return stood + ", and by the error of that it may have been nearer: a cloud so high is seen " + window
	case c.Stands == ByAnEnd && c.Drawn:
		return stood + fmt.Sprintf(", but the filament reached to within %.0f° of the limb, and a cloud so high is seen %s",
			c.Nearest.Abs().Degrees(), window)
	case c.Stands == ByAnEnd:
		return stood + ", but an end of it may have been nearer (nobody drew how long it is): a cloud so high is seen " + window
	case c.Stands == ByItsHeight:
		return stood + ", where only a higher cloud is seen: one so high " + window
	}
	return stood + ", too far: a cloud so high is seen " + window
}

func beforeOrBehind(beyond coords.Angle) string {
	if beyond < 0 {
		return "before the limb"
	}
	return "behind the limb"
}

// insideDeg is how far inside the limb, in longitude, a filament is well seen.
const insideDeg = 18

// looksThatDecide names what is still to come.
func (m *edgeModel) looksThatDecide(candidates []EdgeCandidate) []EdgeLook {
	if len(candidates) > 0 && candidates[0].Probability > 0.97 {
		return nil
	}
	var out []EdgeLook
	add := func(l EdgeLook, ok bool) {
		if ok {
			out = append(out, l)
		}
	}
	edge := m.view.Face.CMD(coords.Heliographic{B: m.lat, L: m.limbL}).Abs()
	if m.east {
		add(m.lookWhenAt(-(edge - insideDeg*coords.Degree), "a filament that came onto the disc here is the prominence's"))
		return out
	}
	for _, c := range candidates {
		add(m.lookBeforeLimb(c))
	}
	back, ok := m.lookWhenAt(360*coords.Degree-edge, "the same cloud comes round the east edge, if it lives")
	if add(back, ok); ok {
		add(m.lookWhenAt(360*coords.Degree-(edge-insideDeg*coords.Degree), "and its filament stands on the disc"))
	}
	return out
}

// lookWhenAt looks at what stands at the limb under the prominence when it has come to a
// distance from the central meridian; false when that has been.
func (m *edgeModel) lookWhenAt(cmd coords.Angle, why string) (EdgeLook, bool) {
	law, limb := rotation.PriorOf("filament").Law, coords.Heliographic{B: m.lat, L: m.limbL}
	at := law.WhenCMD(limb, m.UTC, cmd).Round(time.Hour)
	return m.lookAt(law.Carry(limb, rotation.Days(m.UTC, at)), at, why), !at.Before(m.until)
}

// lookBeforeLimb looks at a candidate at the west edge that was seen before and is still
// on the disc; false when it hardly is, or hardly can be the one.
func (m *edgeModel) lookBeforeLimb(c EdgeCandidate) (EdgeLook, bool) {
	const worthALook, leastInside = 0.05, 4 * coords.Degree
	at := m.until.Add(time.Hour - 1).Truncate(time.Hour)
	if at.Before(m.UTC) || !at.Before(c.LimbPassage) || c.Probability < worthALook || c.Way != JustCrossed {
		return EdgeLook{}, false
	}
	l := m.lookAt(m.passages[c.Passage].Predict(at).Place.Heliographic, at, "a filament that is still before the limb here, and runs to the prominence, is the prominence's")
	edge, ok := rotation.EdgeCMD(l.Lat, ephemeris.At(at))
	return l, ok && l.CMD > 0 && l.CMD < edge-leastInside
}

func (m *edgeModel) lookAt(place coords.Heliographic, at time.Time, why string) EdgeLook {
	view := m.view
	view.Face, view.Layer = ephemeris.At(at), coords.Layer{}
	p := view.ProjectPolar(place, 0)
	return EdgeLook{UTC: at, PA: p.PositionAngle, R: p.R, Lat: place.B, CMD: view.Face.CMD(place), Why: why}
}
