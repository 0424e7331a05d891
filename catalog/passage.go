package catalog

import (
	"fmt"

	"limbwatch/coords"
)

// Passage is one feature's crossing of the visible disc, from edge to edge.
//
//	Name    said by people, stable once given
//	Kind    what it mostly is; a filament's passage may end with a prominence
//	Height  above the photosphere as following found it; nil: not found
//	Stale   positions of its marks have changed since it was last followed; this is
//	        a reminder, not part of the passage, and raises no revision
type Passage struct {
	Record
	ID     PassageID
	Name   string
	Kind   Kind
	Height *coords.Layer
	Note   string
	Stale  bool
}

// Validate says what is wrong with the passage, or nil.
func (p Passage) Validate() error {
	if err := validateName("passage", p.Name); err != nil {
		return err
	}
	if _, ok := kindNames[p.Kind]; !ok {
		return fmt.Errorf("passage %q without a kind", p.Name)
	}
	if p.Height != nil {
		if err := within("height", "Mm", p.Height.HeightMm, -5, 5000); err != nil {
			return err
		}
		if err := within("error of the height", "Mm", p.Height.SigmaMm, 0, 5000); err != nil {
			return err
		}
	}
	return validateText("note", p.Note)
}

// Join says that a mark belongs to a passage, or may, or does not.
//
//	By    who says so; the observer's word stands against the program's
//	Odds  the program's, 0 to 1; nil when nobody weighed it
type Join struct {
	Record
	ID      JoinID
	Mark    MarkID
	Passage PassageID
	State   Standing
	By      Voice
	Odds    *float64
	Note    string
}

// Validate says what is wrong with the join, or nil.
func (j Join) Validate() error {
	if j.Mark <= 0 || j.Passage <= 0 {
		return fmt.Errorf("join of mark %s with passage %s: want both", j.Mark, j.Passage)
	}
	return validateVerdict(j.State, j.By, j.Odds, j.Note)
}

// Link ties two passages: the same feature a rotation later, or parts of one
// that split or merged. Odds are kept, the passages stay two.
type Link struct {
	Record
	ID       LinkID
	From, To PassageID // the earlier and the later
	Relation Relation
	State    Standing
	By       Voice
	Odds     *float64
	Note     string
}

// Validate says what is wrong with the link, or nil.
func (l Link) Validate() error {
	switch {
	case l.From <= 0 || l.To <= 0:
		return fmt.Errorf("link of passage %s with passage %s: want both", l.From, l.To)
	case l.From == l.To:
		return fmt.Errorf("passage %s cannot be linked with itself", l.From)
	case l.Relation == 0 || int(l.Relation) >= len(relationNames):
		return fmt.Errorf("link that is no return, split or merger")
	}
	return validateVerdict(l.State, l.By, l.Odds, l.Note)
}

func validateVerdict(state Standing, by Voice, odds *float64, note string) error {
	if state == 0 || int(state) >= len(standingNames) {
		return fmt.Errorf("join or link that is neither made, proposed nor refused")
	}
	if by == 0 || int(by) >= len(voiceNames) {
		return fmt.Errorf("join or link that does not say whose word it is")
	}
	if odds != nil {
		if err := within("odds", "", *odds, 0, 1); err != nil {
			return err
		}
	}
	return validateText("note", note)
}

// Standing is how far a join or link has got. Its zero is refused.
type Standing uint8

// The standings of a join or link.
const (
	Made Standing = iota + 1
	Proposed
	Refused
)

var standingNames = []string{"", "made", "proposed", "refused"}

// String is the standing's name as it stands in SQL and JSON.
func (s Standing) String() string { return nameOf(standingNames, uint8(s), "Standing") }

// ParseStanding reads a standing's name.
func ParseStanding(text string) (Standing, error) {
	return namedNonZero[Standing](standingNames, text, "standing", "made, proposed or refused")
}

// MarshalText writes the standing's name.
func (s Standing) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Voice is whose word a join or link is. Its zero is refused.
type Voice uint8

// Whose word something is.
const (
	ByProgram Voice = iota + 1
	ByObserver
)

var voiceNames = []string{"", "program", "observer"}

// String is the voice's name as it stands in SQL and JSON.
func (v Voice) String() string { return nameOf(voiceNames, uint8(v), "Voice") }

// ParseVoice reads a voice's name.
func ParseVoice(text string) (Voice, error) {
	return namedNonZero[Voice](voiceNames, text, "voice", "program or observer")
}

// MarshalText writes the voice's name.
func (v Voice) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// Relation is how two linked passages belong together. Its zero is refused.
type Relation uint8

// The relations of passages: a return a rotation (or, from edge to edge, half a
// rotation) later; a part that split off; one that went into another.
const (
	Return Relation = iota + 1
	Split
	Merger
)

var relationNames = []string{"", "return", "split", "merger"}

// String is the relation's name as it stands in SQL and JSON.
func (r Relation) String() string { return nameOf(relationNames, uint8(r), "Relation") }

// ParseRelation reads a relation's name.
func ParseRelation(text string) (Relation, error) {
	return namedNonZero[Relation](relationNames, text, "relation", "return, split or merger")
}

// MarshalText writes the relation's name.
func (r Relation) MarshalText() ([]byte, error) { return []byte(r.String()), nil }
