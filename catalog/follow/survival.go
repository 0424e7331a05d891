package follow

import "math"

// lifetime is how a feature dies: the chance a day to go is greater for what was seen
// for a short while only.
//
//	diesYoung  of one newly seen
//	diesOld    of one that has lasted much longer than youth days
//	youth      in which the excess falls to 1/e
type lifetime struct {
	diesYoung, diesOld, youth float64
}

// hazard is the chance a day to die after having been seen for so many days.
func (l lifetime) hazard(lasted float64) float64 {
	return l.diesOld + (l.diesYoung-l.diesOld)*math.Exp(-lasted/l.youth)
}

// survives is the chance to live on for some days after having been seen for so many.
func (l lifetime) survives(lasted, days float64) float64 { return alive(l.hazard(lasted), days) }

// alive is the chance to live for some days, whichever way they count, at a hazard.
func alive(hazard, days float64) float64 { return math.Exp(-hazard * math.Abs(days)) }

// mostHazard bounds how much shorter than is known of its kind a feature is said to
// live: in a short record much seems to die at the limb that only went out of sight
// (common practice, no source).
const mostHazard = 2

// atMost is the hazard of a feature that may be said to live shorter than the usual, but
// not by more than that.
func atMost(hazard, usual float64) float64 { return min(hazard, mostHazard*usual) }
