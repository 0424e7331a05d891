package follow

import (
	"fmt"
	"math"
	"slices"
	"time"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
)

// AtEdge is a prominence seen at the edge of the disc.
//
//	UTC            when
//	PA, SigmaPA    position angle of its middle, from celestial north through east
//	Width          between its ends along the limb; 0: not known
//	TopMm          height of its top above the photosphere, as if it stood just at
//	SigmaTopMm     the limb, with its error; 0: not measured
//	Limb           the limb that hides what stands behind it; zero: the photosphere
type AtEdge struct {
	UTC               time.Time
	PA, SigmaPA       coords.Angle
	Width             coords.Angle
	TopMm, SigmaTopMm float64
	Limb              coords.Layer
}

// Validate says what is wrong with it, or nil.
func (e AtEdge) Validate() error {
	switch {
	case e.UTC.IsZero():
		return fmt.Errorf("prominence without a time")
	case !(e.PA.Abs() <= 2*math.Pi):
		return fmt.Errorf("prominence at position angle %g°, want 0 to 360", e.PA.Degrees())
	case !(e.SigmaPA >= 0) || e.SigmaPA > 45*coords.Degree:
		return fmt.Errorf("error of the position angle is %g°, want 0 to 45", e.SigmaPA.Degrees())
	case !(e.Width >= 0) || e.Width > 180*coords.Degree:
		return fmt.Errorf("prominence %g° wide along the limb, want 0 to 180", e.Width.Degrees())
	case !(e.TopMm >= 0) || e.TopMm > 1500 || !(e.SigmaTopMm >= 0):
		return fmt.Errorf("top of the prominence at %g ± %g Mm, want 0 to 1500", e.TopMm, e.SigmaTopMm)
	}
	return nil
}

// EdgeOptions steer an edge check.
//
//	Density  of filaments; nil: of the marks in the passages, and listed ones
//	Heights  of the passages above the photosphere where they are known, by their
//	         index; nil, or a zero layer: by what is usual
//	Returns  which of the passages may be one cloud, before and after it was behind the
//	         Sun
//	Looks    when the disc was looked over for filaments; nil: the times of all
//	         sightings in the passages
//	Until    now, for what can still be looked for; zero: the latest look
type EdgeOptions struct {
	Density *FilamentDensity
	Heights []coords.Layer
	Returns []Return
	Looks   []time.Time
	Until   time.Time
}

// Edge is what the check of a prominence found.
//
//	East        which edge
//	Lat, Sigma  latitude of the limb there
//	LimbL       Carrington longitude of the limb there
//	Candidates  passages that may be the prominence's filament, likeliest first
//	Kin         which of the candidates may be one cloud: two of them by their index here,
//	            with the odds. Their probabilities are each one's own
//	None        probability that it is none of those known
//	Word        likely, possible, unlikely or cannot say, of the first candidate
//	Reason      why, in a sentence
//	Looks       observations that would decide it, the first to come first
type Edge struct {
	East       bool
	Lat, Sigma coords.Angle
	LimbL      coords.Angle
	Candidates []EdgeCandidate
	Kin        []Return
	None       float64
	Word       Likelihood
	Reason     string
	Looks      []EdgeLook
}

// EdgeCandidate is a passage weighed against a prominence.
//
//	Passage      index
//	Way          how it would have come to the edge
//	Probability  that the prominence is its filament
//	Word         the same in a word
//	MissLat      predicted minus seen latitude, with its error, of the part of the
//	SigmaLat     filament that comes nearest
//	Beyond       the predicted middle lies so far in longitude behind the limb (negative:
//	SigmaLon     still before it), with its error
//	Nearest      the same of the part of the filament, as it was drawn, that comes nearest
//	             the limb; Beyond where nobody drew it
//	Drawn        somebody did
//	Window       so far before or behind the limb in longitude a cloud of this height
//	             is seen to stand up from it
//	Stands       how it can be seen at all, where the middle lies outside that window: by
//	             what most of the probability rests on
//	MissSigma    the mismatch in both, in standard errors: longitude counts what lies
//	             outside the window
//	GapDays      from the nearest sighting to the prominence
//	LimbPassage  when its middle passes that edge, SigmaPassage its error; From and To
//	             when the window opens and closes
type EdgeCandidate struct {
	Passage           int
	Way               EdgeWay
	Probability       float64
	Word              Likelihood
	MissLat, SigmaLat coords.Angle
	Beyond, SigmaLon  coords.Angle
	Nearest           coords.Angle
	Drawn             bool
	Window            coords.Angle
	Stands            EdgeStand
	MissSigma         float64
	GapDays           float64
	LimbPassage       time.Time
	SigmaPassage      time.Duration
	From, To          time.Time
}

// EdgeStand is why a filament can be seen to stand up at the edge.
type EdgeStand int

// The reasons.
const (
	DoesNotStand EdgeStand = iota // no place, spine and height that it may have lets it
	ByItsMiddle                   // its middle may be as near the limb as it must
	ByAnEnd                       // a part of it is
	ByItsHeight                   // it may be higher, and then is seen from where it is
)

// EdgeWay is how a filament comes to stand at the edge.
type EdgeWay int

// The ways.
const (
	JustCrossed EdgeWay = iota + 1 // it crossed the disc before
	OnDisc                         // at the east edge: part of it was on the disc already
	CameOn                         // it came onto the disc after
	Returned                       // it set in the west half a rotation before
	WillReturn                     // it came round in the east half a rotation after
)

// String gives the words that an answer prints.
func (w EdgeWay) String() string {
	switch w {
	case JustCrossed:
		return "crossed the disc before"
	case OnDisc:
		return "was coming onto the disc already"
	case CameOn:
		return "came onto the disc afterwards"
	case Returned:
		return "went round the west edge half a rotation before"
	case WillReturn:
		return "came round the east edge half a rotation later"
	}
	return fmt.Sprintf("EdgeWay(%d)", int(w))
}

// Likelihood is a probability in a word.
type Likelihood int

// The words. CannotSay is for the whole answer: nothing that could tell has been
// looked at yet.
const (
	CannotSay Likelihood = iota
	Unlikely
	Possible
	Likely
)

// String gives the word.
func (l Likelihood) String() string {
	return [...]string{"cannot say", "unlikely", "possible", "likely"}[l]
}

func wordFor(p float64) Likelihood {
	switch {
	case p >= 0.7:
		return Likely
	case p >= 0.25:
		return Possible
	}
	return Unlikely
}

// CheckEdge weighs which passage a prominence at the edge belongs to. The passages
// must have been followed without the prominence itself.
//
// Every cloud's passage is carried to the time of the prominence, on from its last
// sighting or back from its first. From what its place, spine and height may be
// then follows how often, and where along the limb and how high, it would be seen
// to stand up (edgemodel.go); the same for filaments nobody has marked follows from
// their density. Seen prominences being drawn from all of these, the probability
// of each is its share.
func CheckEdge(e AtEdge, passages []Passage, opts EdgeOptions) (Edge, error) {
	if err := e.Validate(); err != nil {
		return Edge{}, err
	}
	m := newEdgeModel(e, passages, opts)
	out := Edge{East: m.east, Lat: m.lat, Sigma: m.sigmaLat, LimbL: m.limbL}
	none := m.strangers()
	total := none
	for i := range passages {
		c, strength, ok := m.weigh(i)
		if !ok {
			continue
		}
		c.Probability = strength
		total += strength
		out.Candidates = append(out.Candidates, c)
	}
	out.None = none / total
	for i := range out.Candidates {
		c := &out.Candidates[i]
		c.Probability /= total
		c.Word = wordFor(c.Probability)
	}
	slices.SortStableFunc(out.Candidates, func(a, b EdgeCandidate) int {
		switch {
		case a.Probability > b.Probability:
			return -1
		case a.Probability < b.Probability:
			return 1
		}
		return 0
	})
	const negligible = 0.01 // not worth a line, but for the best
	for i, c := range out.Candidates {
		if i > 0 && c.Probability < negligible {
			out.Candidates = out.Candidates[:i]
			break
		}
	}
	out.Kin = kin(out.Candidates, opts.Returns)
	m.conclude(&out)
	return out, nil
}

// kin are the returns of which both passages are candidates, by their index there.
func kin(candidates []EdgeCandidate, returns []Return) (out []Return) {
	at := func(passage int) int {
		return slices.IndexFunc(candidates, func(c EdgeCandidate) bool { return c.Passage == passage })
	}
	for _, r := range returns {
		if r.Earlier, r.Later = at(r.Earlier), at(r.Later); r.Earlier >= 0 && r.Later >= 0 {
			out = append(out, r)
		}
	}
	return out
}

// edgeModel is a prominence with all that is needed to weigh passages against it.
type edgeModel struct {
	AtEdge
	view       disc.View
	east       bool
	lat, limbL coords.Angle
	sigmaLat   coords.Angle
	passages   []Passage
	heights    []coords.Layer
	density    FilamentDensity
	looks      []time.Time // in order
	until      time.Time
	draws      []edgeDraw
}

func newEdgeModel(e AtEdge, passages []Passage, opts EdgeOptions) *edgeModel {
	m := &edgeModel{AtEdge: e, passages: passages, heights: opts.Heights, until: opts.Until}
	m.view = disc.View{Layer: e.Limb, Face: ephemeris.At(e.UTC)}
	m.view.Layer.SigmaMm = 0
	limb := m.view.PlacePolar(e.PA, 1.0001, 0, disc.Height{}).Beyond.Limb
	m.lat, m.limbL = limb.B, limb.L
	m.east = m.view.Face.CMD(limb.Heliographic) < 0
	// A degree of position angle is one along the limb; how much of it is latitude
	// depends on the tilt of the axis, and is the whole but near the poles.
	m.sigmaLat = max(e.SigmaPA, 0.3*coords.Degree)
	if opts.Density != nil {
		m.density = *opts.Density
	} else {
		var all []Sighting
		for _, p := range passages {
			all = append(all, p.Sightings...)
		}
		m.density = DensityOf(all)
	}
	m.looks = slices.Clone(opts.Looks)
	if m.looks == nil {
		seen := map[int64]bool{}
		for _, p := range passages {
			for _, s := range p.Sightings {
				if !seen[s.UTC.UnixNano()] {
					seen[s.UTC.UnixNano()] = true
					m.looks = append(m.looks, s.UTC)
				}
			}
		}
	}
	slices.SortFunc(m.looks, time.Time.Compare)
	if m.until.IsZero() {
		m.until = e.UTC
		if n := len(m.looks); n > 0 && m.looks[n-1].After(m.until) {
			m.until = m.looks[n-1]
		}
	}
	m.draws = drawHeights()
	return m
}
