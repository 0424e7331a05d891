package ephemeris

import (
	"math"
	"time"

	"limbwatch/coords"
)

// Mean start and length of Carrington's rotations: Meeus, Astronomical
// Algorithms, (29.1). Rotation 1 began on 1853 November 9.
const (
	rotationZeroJDE  = 2398140.2270
	meanRotationDays = 27.2752316
)

// Rotation is Carrington's rotation number at t with its fraction, counted from
// the start of rotation 1 in November 1853 and growing evenly with the Sun's
// turning. A rotation starts when L0 passes through 0°; the fraction is
// 1 − L0/360°.
func Rotation(t time.Time) float64 { return RotationTT(JulianDayTT(t)) }

// RotationTT is Rotation for a Julian date in Terrestrial Time.
func RotationTT(jdeTT float64) float64 {
	return rotationNumber(jdeTT, AtTT(jdeTT).L0)
}

// rotationNumber finds the whole number that belongs to L0: true and mean
// rotation differ by less than 0.01, so the mean one says which.
func rotationNumber(jdeTT float64, l0 coords.Angle) float64 {
	mean := (jdeTT - rotationZeroJDE) / meanRotationDays
	fraction := 1 - l0.Degrees()/360
	return math.Round(mean-fraction) + fraction
}

// RotationStart is the instant, UTC, when Carrington's rotation of that number
// starts: L0 = 0°, to about 2 s.
func RotationStart(number int) time.Time {
	jde := rotationZeroJDE + meanRotationDays*float64(number)
	// L0 falls almost evenly, so a few steps at the mean rate are enough.
	for range 6 {
		jde += (float64(number) - RotationTT(jde)) * meanRotationDays
	}
	return timeOfTT(jde)
}
