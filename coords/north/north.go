// Package north finds how a picture lies against the sky: where celestial north
// points in it, and whether it is mirrored. One function a way to know.
//
// Every way gives a Found: the north with its standard error, the method's name,
// the reason in words, and the odds of the parity where they were weighed. A way
// that cannot tell returns an error that says why; it never guesses.
//
// # Turning and mirroring
//
// A direction in the picture at a counter-clockwise from up has the position
// angle a − N, or N − a when the picture is mirrored, N being the angle of
// celestial north. So something known to stand at position angle θ that is seen
// at a gives N = a − θ, or N = a + θ mirrored.
package north

import (
	"fmt"
	"math"
	"time"

	"limbwatch/coords"
)

// Found is a north with what speaks for it.
//
//	North   angle, parity and standard error
//	Method  how it was found, in a word or three
//	Why     the reason, for people
//	Parity  probability that Mirrored is right, 0.5 to 1; 0 when it was not
//	        weighed but given
//	Lasting the part of the error that further matches repeat (see Match)
type Found struct {
	coords.North
	Method, Why string
	Parity      float64
	Lasting     coords.Angle
}

// The names of the methods.
const (
	MethodTyped     = "typed"
	MethodSolar     = "solar north"
	MethodLastTime  = "as last time"
	MethodFlipped   = "flipped"
	MethodLevel     = "level camera"
	MethodDrift     = "drift"
	MethodFeatures  = "known features"
	MethodReference = "reference picture"
	MethodTurning   = "the Sun's turning"
	MethodHeader    = "file header"
)

// Errors that the ways without a measurement add, in quadrature.
const (
	// ReuseSigma is how far a camera that is put back comes to lie from last
	// time (common practice, no source).
	ReuseSigma = 1.5 * coords.Degree
	// FlipSigma is how far a mount turned over differs from a half turn: its
	// polar axis is not quite at the pole (common practice, no source).
	FlipSigma = 0.2 * coords.Degree
)

// at solves for north from a direction in the picture, counter-clockwise from up,
// and the position angle that is known to stand there.
func at(direction, positionAngle coords.Angle, mirrored bool) coords.Angle {
	if mirrored {
		positionAngle = -positionAngle
	}
	return (direction - positionAngle).Wrap180()
}

// Typed takes a north as it is given. It refuses one without an error: nobody
// knows an angle exactly.
func Typed(north coords.North) (Found, error) {
	if err := check("angle of north", north.Angle); err != nil {
		return Found{}, err
	}
	if !(north.Sigma > 0) || north.Sigma > 90*coords.Degree {
		return Found{}, fmt.Errorf("error of north %.3g deg, need more than 0 and at most 90", north.Sigma.Degrees())
	}
	north.Angle = north.Angle.Wrap180()
	return Found{
		North:  north,
		Method: MethodTyped,
		Why:    fmt.Sprintf("typed: celestial north at %.2f° ± %.2f°, %s", north.Angle.Degrees(), north.Sigma.Degrees(), Handed(north.Mirrored)),
	}, nil
}

// FromSolar takes the direction of solar north in the picture: of one that was
// turned to it, or whose header says so. p is the position angle of the Sun's
// pole; the Angle of solar speaks of the pole, its error and parity stay.
func FromSolar(solar coords.North, p coords.Angle) (Found, error) {
	if err := check("P", p); err != nil {
		return Found{}, err
	}
	found, err := Typed(coords.North{Angle: at(solar.Angle, p, solar.Mirrored), Mirrored: solar.Mirrored, Sigma: solar.Sigma})
	if err != nil {
		return Found{}, err
	}
	found.Method = MethodSolar
	found.Why = fmt.Sprintf("solar north at %.2f° ± %.2f°, the Sun's pole at position angle %.2f°: celestial north at %.2f°, %s",
		solar.Angle.Degrees(), solar.Sigma.Degrees(), p.Degrees(), found.Angle.Degrees(), Handed(solar.Mirrored))
	return found, nil
}

// AsLastTime takes over a north from another sitting, so long ago. A camera angle belongs
// to one sitting, so the error grows by ReuseSigma. After LongestReuse nothing says that
// the camera still lies so, and it is refused.
func AsLastTime(last coords.North, age time.Duration) (Found, error) {
	if age > LongestReuse {
		return Found{}, fmt.Errorf("the last north of this set-up is %s old: nothing says that the camera still lies so", ageInWords(age))
	}
	found, err := Typed(widened(last, ReuseSigma))
	if err != nil {
		return Found{}, err
	}
	found.Method = MethodLastTime
	found.Why = fmt.Sprintf("as last time, %s ago, %.2f° ± %.2f°; a camera put back lies within some %.1f° of where it was: now ± %.2f°",
		ageInWords(age), last.Angle.Degrees(), last.Sigma.Degrees(), ReuseSigma.Degrees(), found.Sigma.Degrees())
	return found, nil
}

// LongestReuse is how old a north may be that is taken over (common practice, no source).
const LongestReuse = 365 * 24 * time.Hour

// ageInWords says how long ago something was.
func ageInWords(age time.Duration) string {
	const day = 24 * time.Hour
	age = age.Abs()
	n, unit := int(math.Round(age.Hours())), "hour"
	switch {
	case age < time.Hour:
		n, unit = int(math.Round(age.Minutes())), "minute"
	case age > 700*day:
		n, unit = int(math.Round(age.Hours()/24/365.25)), "year"
	case age > 60*day:
		n, unit = int(math.Round(age.Hours()/24/30.44)), "month"
	case age > 23*time.Hour:
		n, unit = int(math.Round(age.Hours()/24)), "day"
	}
	if n != 1 {
		unit += "s"
	}
	return fmt.Sprintf("%d %s", n, unit)
}

// Flipped turns a north by half a turn, as a mount does that is turned over after
// the meridian. The parity stays.
func Flipped(before coords.North) (Found, error) {
	after := widened(before, FlipSigma)
	after.Angle = (before.Angle + 180*coords.Degree).Wrap180()
	found, err := Typed(after)
	if err != nil {
		return Found{}, err
	}
	found.Method = MethodFlipped
	found.Why = fmt.Sprintf("turned over after the meridian: %.2f° became %.2f° ± %.2f°",
		before.Angle.Degrees(), found.Angle.Degrees(), found.Sigma.Degrees())
	return found, nil
}

// widened adds an independent error.
func widened(n coords.North, sigma coords.Angle) coords.North {
	if n.Sigma > 0 { // one without an error is refused, not given one here
		n.Sigma = coords.Angle(math.Hypot(float64(n.Sigma), float64(sigma)))
	}
	return n
}

// Handed says the parity in words.
func Handed(mirrored bool) string {
	if mirrored {
		return "mirrored"
	}
	return "not mirrored"
}

func check(what string, a coords.Angle) error {
	if math.IsNaN(float64(a)) || math.IsInf(float64(a), 0) {
		return fmt.Errorf("%s is not a number", what)
	}
	return nil
}
