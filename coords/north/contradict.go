package north

import (
	"fmt"
	"math"

	"limbwatch/coords"
	"limbwatch/coords/rotation"
)

// Contradiction is how a north that was said differs from one that something else tells.
type Contradiction int

// The contradictions. Exchanged ones show the right line of north with the wrong parity.
const (
	Agrees     Contradiction = iota
	HalfTurned               // 180° off
	EastWest                 // east and west exchanged: mirrored instead of not, or not instead of mirrored
	NorthSouth               // north and south exchanged: the other parity, and 180° off
	OtherWay                 // the other parity, and turned besides
	Off                      // turned by more than the errors allow
)

// How far norths may differ and still be called the same, or half a turn apart: in
// standard errors of both, and for what is off by much anyway at least so many degrees.
const (
	mostApart  = 3.0
	roughAngle = 10 * coords.Degree
)

// Contradicts tells how a north that was said differs from one that was found otherwise;
// the errors of both count, and must be independent.
func Contradicts(said, found coords.North) Contradiction {
	sigma := coords.Angle(math.Hypot(float64(said.Sigma), float64(found.Sigma)))
	off := (said.Angle - found.Angle).Wrap180().Abs()
	rough := max(roughAngle, mostApart*sigma)
	turned := math.Pi-float64(off) <= float64(rough)
	switch {
	case said.Mirrored != found.Mirrored && off <= rough:
		return EastWest
	case said.Mirrored != found.Mirrored && turned:
		return NorthSouth
	case said.Mirrored != found.Mirrored:
		return OtherWay
	case off <= coords.Angle(mostApart)*sigma:
		return Agrees
	case turned:
		return HalfTurned
	}
	return Off
}

// InWords says the contradiction of a north that was said with one that was found.
func (c Contradiction) InWords(said, found coords.North) string {
	off := (said.Angle - found.Angle).Wrap180().Abs().Degrees()
	switch c {
	case Agrees:
		return "agrees"
	case HalfTurned:
		return "is half a turn off"
	case EastWest:
		return "has east and west exchanged"
	case NorthSouth:
		return "has north and south exchanged"
	case OtherWay:
		return fmt.Sprintf("is mirrored the other way and %.1f° off", off)
	}
	return fmt.Sprintf("is %.1f° off, more than the errors allow", off)
}

// Told is what another picture tells of one's north.
//
//	Found   the north that fits, with its error, that of the other's north included
//	Theirs  what must be wrong with the other's north for that: Agrees when it fits as it
//	        is said. With it as said, what is seen would not go round the Sun's axis
//	Twins   half a turn and east and west exchanged cannot be told apart, nor north and
//	        south exchanged from nothing at all: the Sun's axis lies along north
//	Days    from the other picture to this one
type Told struct {
	Found  coords.North
	Theirs Contradiction
	Twins  bool
	Days   float64
}

// TwinsWithin is how far the axis may lean (P) until the sense of the Sun's turning alone
// tells how a picture lies (common practice, no source).
const TwinsWithin = 3 * coords.Degree

// leastDaysOfTurn is how long the Sun turns until its sense is surely seen: by 4°.
const leastDaysOfTurn = 0.3

// Wrongly is a north as it would have to be if it was said with that contradiction.
func Wrongly(n coords.North, how Contradiction) coords.North {
	if how == EastWest || how == NorthSouth {
		n.Mirrored = !n.Mirrored
	}
	if how == HalfTurned || how == NorthSouth {
		n.Angle = (n.Angle + 180*coords.Degree).Wrap180()
	}
	return n
}

// Tell finds what another picture tells of one's north: find gives the north that fits one
// of the other's. Where nothing fits that north as it is said, it is tried half turned and
// exchanged; p is the position angle of the Sun's axis. The error is that of the north as
// it is said.
func Tell(theirs coords.North, days float64, p coords.Angle, find func(theirs coords.North) (coords.North, error)) (Told, error) {
	told := Told{Days: days, Twins: p.Abs() < TwinsWithin}
	var refused error
	if told.Found, refused = find(theirs); refused == nil {
		return told, nil
	}
	if math.Abs(days) < leastDaysOfTurn {
		return told, refused
	}
	ways := []Contradiction{EastWest, HalfTurned, NorthSouth}
	if told.Twins {
		ways = ways[:1]
	}
	for _, told.Theirs = range ways {
		var err error
		if told.Found, err = find(Wrongly(theirs, told.Theirs)); err == nil {
			return told, nil
		}
	}
	return told, refused
}

// ToldByPicture finds what the pattern of an oriented picture tells of another's north.
// The error is an *IndecisiveError when it does not decide.
func ToldByPicture(old Oriented, now Unoriented, opts MatchOptions) (Told, error) {
	return Tell(old.View.North, rotation.Days(old.UTC, now.UTC), old.View.Face.P, func(theirs coords.North) (coords.North, error) {
		old.View.North = theirs
		m, err := FromPicture(old, now, opts)
		return m.North, err
	})
}
