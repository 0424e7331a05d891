package limb

import (
	"errors"
	"fmt"
	"math"

	"limbwatch/coords"
)

// Exposure is what a picture was exposed for. Its zero is not known.
type Exposure int

// The exposures: for the surface, for what stands beyond the limb, or both (a
// composite).
const (
	UnknownExposure Exposure = iota
	SurfaceExposure
	LimbExposure
	BothExposure
)

// The widths of filters at which the limb changes, in angstrom.
const (
	whiteFromA  = 5.0 // no single line is seen through a filter so wide
	narrowFromA = 0.6 // one so narrow shows the chromosphere to its edge
)

// Prior is which limb a picture in H-alpha or in white light shows, as well as the
// filter and the exposure can tell before anything is measured.
//
//	passbandA  width of the filter, angstrom; 0 not known
//	stacked    narrow-band filters behind one another; 0 not known
//
// The line centre's limb lies 4.3 to 4.4 Mm above the white-light limb at the
// equator and just under 6 Mm at the poles, with a scatter of 0.5 Mm, and 0.5 Mm
// lower in the wing (Johannesson & Zirin 1996, ApJ 471, 510). Which of the two
// edges a fit finds is a rule of thumb (common practice, no source): a wide or
// single filter lets the photosphere through, so that its edge may be the steeper
// one, unless the picture is exposed for the prominences; then both limbs are
// possible, and the prior is half-way between with an error that reaches either.
func Prior(passbandA float64, stacked int, exposure Exposure) coords.Layer {
	switch {
	case passbandA > whiteFromA:
		// The white-light limb is some 0.3 Mm above the photosphere at optical
		// depth 1 (Haberreiter et al. 2008, ApJ 675, L53, from memory).
		return coords.Layer{HeightMm: coords.Photosphere.HeightMm, SigmaMm: 0.3}
	case stacked > 1, passbandA > 0 && passbandA <= narrowFromA:
		return coords.Layer{HeightMm: coords.Chromosphere.HeightMm, SigmaMm: 0.8}
	case exposure == LimbExposure:
		return coords.Layer{HeightMm: coords.Chromosphere.HeightMm, SigmaMm: 1}
	}
	return coords.Layer{HeightMm: 2.2, SigmaMm: 2.2}
}

// MeasuredLayer is the limb of one instrument, with one filter and one kind of
// exposure, measured by the drift of the Sun: its speed across the picture with
// the drive off gives the scale, and the fitted radius in arcseconds less the
// photosphere's the height.
//
//	fit                    a limb found on that instrument
//	pxPerSecond, sigma     speed of the drift and its standard error
//	face                   the Sun at that time: semidiameter and distance
//	declination            of the Sun: it drifts by 15" cos δ a second
//
// The Sun's own motion in right ascension is taken as its mean over the year. It
// is at most 1 part in 2900 of the drift off (30 s of time a day, at the turn of
// the year), on the mean 1 in 4500, 0.15 Mm; that is in the error.
func MeasuredLayer(fit Fit, pxPerSecond, sigma float64, face coords.Face, declination coords.Angle) (coords.Layer, error) {
	switch {
	case !(pxPerSecond > 0):
		return coords.Layer{}, fmt.Errorf("drift of %g px/s is not positive", pxPerSecond)
	case !(sigma > 0):
		return coords.Layer{}, fmt.Errorf("standard error %g px/s of the drift is not positive", sigma)
	case !(face.Semidiameter > 0):
		return coords.Layer{}, errors.New("the Sun's semidiameter is not positive")
	case !(fit.Limb.RadiusPx > 0):
		return coords.Layer{}, errors.New("the fit has no limb")
	}
	const secondsOfArcPerSecond = 15.0 // of hour angle: 360° a mean solar day
	perPx := secondsOfArcPerSecond * declination.Cos() / pxPerSecond
	limb := perPx * fit.Limb.RadiusPx
	toMm := coords.SolarRadiusMm / face.Semidiameter.Arcseconds()
	relative := math.Hypot(sigma/pxPerSecond, fit.Limb.Cov.SigmaRadiusPx()/fit.Limb.RadiusPx)
	relative = math.Hypot(relative, 1.0/4500)
	return coords.Layer{
		HeightMm: (limb - face.Semidiameter.Arcseconds()) * toMm,
		SigmaMm:  limb * relative * toMm,
	}, nil
}
