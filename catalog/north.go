package catalog

import (
	"fmt"

	"limbwatch/coords"
)

// North is how a frame lies, as it was found or typed. A frame has at most one.
//
//	Angle     where Toward points in the picture as shown, counter-clockwise from up
//	Toward    what Angle speaks of: celestial north, solar north or the zenith. What
//	          was typed is kept, and celestial north follows from the frame's time
//	          and site, so it follows when those are put right
//	Mirrored  east lies clockwise of north
//	Sigma     standard error of Angle
//	Lasting   the part of it that matching on from this frame repeats; negative when it
//	          came of going back in time (north.Match)
//	Method    how it was found: "typed", "as last time", "drift" …
//	Parity    odds that Mirrored is right, 0.5 to 1; 0 when nobody weighed it
//	From      the frame from which it was taken over, or whose north it is held to, if any
type North struct {
	Record
	ID       NorthID
	Frame    FrameID
	Angle    coords.Angle
	Toward   Toward
	Mirrored bool
	Sigma    coords.Angle
	Lasting  coords.Angle
	Method   string
	Parity   float64
	From     FrameID
	Note     string
}

// Validate says what is wrong with the north, or nil.
func (n North) Validate() error {
	if n.Frame <= 0 {
		return fmt.Errorf("north without a frame")
	}
	if err := within("angle of north", "degrees", n.Angle.Degrees(), -360, 360); err != nil {
		return err
	}
	if sigma := n.Sigma.Degrees(); !(sigma > 0 && sigma <= 180) {
		return fmt.Errorf("error of north %g degrees: want more than 0, at most 180", sigma)
	}
	if !(n.Lasting.Abs() <= n.Sigma) {
		return fmt.Errorf("lasting error of north %g degrees: want at most its whole error, %g", n.Lasting.Degrees(), n.Sigma.Degrees())
	}
	if int(n.Toward) >= len(towardNames) {
		return fmt.Errorf("direction %d has no name", uint8(n.Toward))
	}
	if n.Parity != 0 {
		if err := within("odds of the parity", "", n.Parity, 0.5, 1); err != nil {
			return err
		}
	}
	if err := validateName("method of north", n.Method); err != nil {
		return err
	}
	return validateText("note", n.Note)
}

// Toward is the direction of which a North speaks. Its zero is celestial north.
type Toward uint8

// The directions of which a North can speak.
const (
	TowardCelestial Toward = iota
	TowardSolar
	TowardZenith
)

var towardNames = []string{"celestial", "solar", "zenith"}

// String is the direction's name as it stands in SQL and JSON.
func (t Toward) String() string { return nameOf(towardNames, uint8(t), "Toward") }

// ParseToward reads a direction's name.
func ParseToward(text string) (Toward, error) {
	return named[Toward](towardNames, text, "direction of north", "celestial, solar or zenith")
}

// MarshalText writes the direction's name.
func (t Toward) MarshalText() ([]byte, error) { return []byte(t.String()), nil }
