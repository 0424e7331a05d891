package limb

import (
	"fmt"
	"math"

	"limbwatch/coords"
)

// Fit is a limb that was found, or fitted to typed points, and how well.
//
//	Limb        centre and radius, with their covariance
//	RMSPx       rms distance of the limb points used from the fitted limb
//	ArcDeg      length of limb covered by those points, degrees of the full turn
//	Points      limb points used; each is a stretch of limb some pixels long
//	Rejected    limb points found but left out, as prominences and the like are
//	WidthPx     full width at half maximum of the blurred edge: a measure of focus
//	            and seeing; 0 when not measured
//	Negative    brightness rises outward: the picture is a negative
//	Saturated   the disc is burnt out at the limb, so that the radius is uncertain
//	Residuals   the points, by direction
//	Rivals      the round edges that were weighed, this limb among them, by radius, the
//	            smallest first; nil when there was no other
//
// A position on the disc needs to know which limb this is, too: see Prior.
type Fit struct {
	Limb      coords.Limb
	RMSPx     float64
	ArcDeg    float64
	Points    int
	Rejected  int
	WidthPx   float64
	Negative  bool
	Saturated bool
	Residuals []Residual
	Rivals    []Rival
}

// Rival is one of several round edges of a picture, of which one is the limb: the others
// belong to a stop, to a ring of scattered light, or to what was drawn in finishing.
//
//	Fit   the circle; without Points, and good to some pixels only, where the edge does
//	      not bear a fit
//	Odds  probability that it is the Sun's, were it one of those listed; nil where nothing
//	      weighs them
type Rival struct {
	Fit
	Odds *float64
}

// Residual is how far outside the fitted limb one limb point lies.
//
//	Direction  from the centre, counter-clockwise from up
//	OutPx      distance outside the limb, negative inside
//	Used       the point took part in the fit
type Residual struct {
	Direction coords.Angle
	OutPx     float64
	Used      bool
}

// Shape says whether the limb is a circle or an ellipse.
type Shape int

// The shapes. A circle is fitted unless an ellipse is plainly better: a
// flattening of over six standard errors and more than 0.2 % of the radius, on at
// least 250° of limb.
const (
	CircleOrEllipse Shape = iota
	Circle
	Ellipse
)

// Options of a search or a fit. The zero value is right for most pictures.
//
//	Shape         circle or ellipse
//	SigmaClickPx  standard error of a typed point, each way; 0 means 0.5 px
//	Expected      radius that is known beforehand
type Options struct {
	Shape        Shape
	SigmaClickPx float64
	Expected     Expected
}

// Expected is the radius of the Sun as other knowledge than the picture's gives it: it
// helps to tell the limb from other round edges, and moves no limb. When it fits none of
// them the picture has another scale, and it is left out.
//
//	RadiusPx  0 when nothing is known
//	SigmaPx   standard error
type Expected struct {
	RadiusPx, SigmaPx float64
}

// fits says whether something is known and a radius agrees with it.
func (e Expected) fits(radiusPx float64) bool {
	const farthest = 3 // standard errors
	return e.RadiusPx > 0 && e.SigmaPx > 0 && math.Abs(radiusPx-e.RadiusPx) < farthest*e.SigmaPx
}

// RefusedError says why no limb is given: a wrong one is worse than none.
//
//	Reason   in words, with figures
//	Closest  the circle that was looked at last, for drawing; its RadiusPx is 0
//	         when there was none
//	Rivals   the circles that were weighed, by radius, the smallest first; nil when
//	         there were not several
type RefusedError struct {
	Reason  string
	Closest coords.Limb
	Rivals  []Rival
	final   bool // no other circle is looked for
}

func (e *RefusedError) Error() string { return "disc refused: " + e.Reason }

func refuse(c circle, format string, args ...any) *RefusedError {
	return &RefusedError{
		Reason:  fmt.Sprintf(format, args...),
		Closest: coords.Limb{Centre: coords.Pixel{X: c.x, Y: c.y}, RadiusPx: c.r},
	}
}

// String is a one-line summary for people.
func (f Fit) String() string {
	return fmt.Sprintf("centre %.2f, %.2f px, radius %.2f px (± %.2f, ± %.2f), rms %.2f px over %.0f°",
		f.Limb.Centre.X, f.Limb.Centre.Y, f.Limb.RadiusPx, f.Limb.Cov.SigmaCentrePx(), f.Limb.Cov.SigmaRadiusPx(), f.RMSPx, f.ArcDeg)
}
