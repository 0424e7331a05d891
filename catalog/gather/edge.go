package gather

import (
	"fmt"
	"time"

	"limbwatch/catalog/field"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/observe"
	"limbwatch/coords/figure"
)

// EdgeFigures is the check of a prominence at the edge in figures, as JSON names them.
//
//	Candidates  passages that may be its filament, likeliest first
//	Kin         pairs of them that may be one cloud
//	Decide      looks that would decide it, the first to come first
type EdgeFigures struct {
	Mark       string            `json:"mark,omitempty"`
	UTC        string            `json:"utc,omitempty"`
	Edge       string            `json:"edge"`
	LatDeg     float64           `json:"lat_deg"`
	SigmaLat   float64           `json:"sigma_lat_deg"`
	LimbLonDeg float64           `json:"limb_lon_deg"`
	TopMm      *field.Megametres `json:"height_km"`
	SigmaTop   *field.Megametres `json:"sigma_height_km"`
	Word       string            `json:"word"`
	Reason     string            `json:"reason"`
	None       float64           `json:"none_of_those_known"`
	Candidates []EdgeCandidate   `json:"candidates"`
	Kin        []EdgeKin         `json:"kin"`
	Decide     []EdgeLook        `json:"would_decide"`
}

// EdgeCandidate is a passage weighed against a prominence: see follow.EdgeCandidate.
type EdgeCandidate struct {
	PassageID   string            `json:"passage_id"`
	Passage     string            `json:"passage"`
	Probability float64           `json:"probability"`
	Word        string            `json:"word"`
	Way         string            `json:"way"`
	MissLatDeg  float64           `json:"miss_lat_deg"`
	SigmaLatDeg float64           `json:"sigma_lat_deg"`
	BeyondDeg   float64           `json:"beyond_limb_deg"`
	SigmaLonDeg float64           `json:"sigma_lon_deg"`
	WindowDeg   float64           `json:"window_deg"`
	MissSigma   float64           `json:"miss_sigma"`
	GapDays     float64           `json:"gap_days"`
	LimbUTC     string            `json:"limb_utc"`
	SigmaHours  float64           `json:"sigma_limb_hours"`
	HeightMm    *field.Megametres `json:"height_km"`
	SigmaHeight *field.Megametres `json:"sigma_height_km"`
	FromUTC     string            `json:"window_from_utc"`
	ToUTC       string            `json:"window_to_utc"`
}

// EdgeKin is a pair of candidates that may be one cloud, before and after it was behind
// the Sun: with what odds, and how probable it is then that the prominence is this cloud.
type EdgeKin struct {
	Earlier  string  `json:"earlier"`
	Later    string  `json:"later"`
	Odds     float64 `json:"odds"`
	Together float64 `json:"together"`
}

// String says it in words.
func (k EdgeKin) String() string {
	if k.Odds == 1 { // nothing that is weighed is so sure: the observer said so
		return fmt.Sprintf("%s is %s come back, by your word; together they have %s", k.Later, k.Earlier, figure.Percent(k.Together))
	}
	return fmt.Sprintf("%s may be %s come back (odds %.2f); together they have %s", k.Later, k.Earlier, k.Odds, figure.Percent(k.Together))
}

// EdgeLook is a look that would decide the check.
type EdgeLook struct {
	UTC    string  `json:"utc"`
	PADeg  float64 `json:"pa_deg"`
	R      float64 `json:"r"`
	LatDeg float64 `json:"lat_deg"`
	CMDDeg float64 `json:"cmd_deg"`
	Why    string  `json:"why"`
}

// Edge puts an answer into figures.
func Edge(a observe.EdgeAnswer) EdgeFigures {
	out := EdgeFigures{
		Edge: EdgeName(a.East), LatDeg: a.Lat.Degrees(), SigmaLat: a.Sigma.Degrees(), LimbLonDeg: a.LimbL.Degrees(),
		Word: a.Word.String(), Reason: a.Reason, None: a.None, Candidates: []EdgeCandidate{}, Kin: []EdgeKin{}, Decide: []EdgeLook{},
	}
	if a.Err != nil {
		out.Edge, out.Word, out.Reason = "", "not weighed", a.Err.Error()
	}
	if a.Mark != nil {
		out.Mark, out.UTC = a.Mark.Mark.ID.String(), utc(a.Mark.Position.UTC)
	}
	if a.Top != nil {
		out.TopMm, out.SigmaTop = field.MegametresOf(a.Top.HeightMm), field.MegametresOf(a.Top.SigmaMm)
	}
	for i, c := range a.Candidates {
		out.Candidates = append(out.Candidates, EdgeCandidate{
			PassageID: c.Passage.ID.String(), Passage: c.Passage.Name, Probability: c.Probability, Word: c.Word.String(), Way: c.Way.String(),
			MissLatDeg: c.MissLat.Degrees(), SigmaLatDeg: c.SigmaLat.Degrees(), BeyondDeg: c.Beyond.Degrees(), SigmaLonDeg: c.SigmaLon.Degrees(),
			WindowDeg: c.Window.Degrees(), MissSigma: c.MissSigma, GapDays: c.GapDays,
			LimbUTC: utc(c.LimbPassage), SigmaHours: c.SigmaPassage.Hours(), FromUTC: utc(c.From), ToUTC: utc(c.To),
		})
		if h := c.Height; h != nil {
			out.Candidates[i].HeightMm, out.Candidates[i].SigmaHeight = field.MegametresOf(h.HeightMm), field.MegametresOf(h.SigmaMm)
		}
	}
	for _, k := range a.Kin {
		out.Kin = append(out.Kin, EdgeKin{a.Candidates[k.Earlier].Passage.Name, a.Candidates[k.Later].Passage.Name, k.Odds,
			a.Candidates[k.Earlier].Probability + a.Candidates[k.Later].Probability})
	}
	for _, l := range a.Looks {
		out.Decide = append(out.Decide, EdgeLook{utc(l.UTC), l.PA.Wrap360().Degrees(), l.R, l.Lat.Degrees(), l.CMD.Degrees(), l.Why})
	}
	return out
}

// NoneOf says what the probability of none is that of, and writes it: of nothing seen so
// far, where nothing that could tell has been looked at yet. Where there is nothing at
// all that it could be, there is nothing to be sure of either.
func NoneOf(a observe.EdgeAnswer) (words, percent string) {
	switch {
	case a.Word != follow.CannotSay:
		return "none of those known", figure.Percent(a.None)
	case len(a.Candidates) > 0:
		return "none of those seen so far", figure.Percent(a.None)
	}
	return "nothing seen so far that it could be", ""
}

// EdgeName is the word for an edge of the disc.
func EdgeName(east bool) string {
	if east {
		return "east"
	}
	return "west"
}

func utc(t time.Time) string { return t.UTC().Format(time.RFC3339Nano) }
