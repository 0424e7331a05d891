package wcs

import (
	"fmt"
	"math"
	"strings"

	"limbwatch/coords"
	"limbwatch/coords/picture/fits"
)

// centreKeys are pairs of keywords that hold a disc's centre in pixels. base is
// the number of the first pixel: these keywords come from programs that count from
// 0 (X0 of the MDI headers says so) or from 1.
var centreKeys = []struct {
	x, y string
	base float64
}{
	{"CENTER_X", "CENTER_Y", 0},
	{"CENTRE_X", "CENTRE_Y", 0},
	{"X0", "Y0", 0},
	{"FNDLMBXC", "FNDLMBYC", 1},
}

// radiusKeys hold a radius in pixels, or in arcsec, see pixelRadius.
var radiusKeys = []string{"SOLAR_R", "SOLAR-R", "R_SUN", "FNDLMBMA", "RADIUS"}

// fromObservatory reads the plain forms: a centre and a radius in pixels. They
// give the disc where the solar coordinates gave none, and are compared with it
// where they did.
func (s *Solar) fromObservatory(h fits.Header, f frame) {
	radius, radiusKey, ok := s.pixelRadius(h)
	if !ok {
		return
	}
	if s.Limb != nil {
		if ratio := radius / s.Limb.RadiusPx; math.Abs(ratio-1) > 0.02 {
			s.warn("%s %.1f px disagrees with the %.1f px of the solar coordinates: it belongs to the picture before it was resized",
				radiusKey, radius, s.Limb.RadiusPx)
		}
		return
	}
	centre, centreKey, ok := plainCentre(h, f)
	if s.Centre != nil {
		centre, centreKey, ok = *s.Centre, s.Source, true
	}
	if !ok {
		return
	}
	limb := limbOf(centre, radius)
	if limb == nil || !s.fits(*limb, f) {
		s.warn("the disc of %s and %s (centre %.1f %.1f, radius %.1f px) isn't in this picture of %.0f x %.0f; was it cropped or shrunk?",
			centreKey, radiusKey, centre.X, centre.Y, radius, f.width, f.height)
		return
	}
	if s.ScaleArcsec > 0 && s.RadiusArcsec > 0 {
		if byScale := s.RadiusArcsec / s.ScaleArcsec; math.Abs(radius/byScale-1) > 0.02 {
			s.warn("%s %.1f px disagrees with %.1f px by the header's scale", radiusKey, radius, byScale)
		}
	}
	s.Limb, s.Source = limb, fmt.Sprintf("%s and %s", centreKey, radiusKey)
}

// pixelRadius finds a radius in pixels. SOLAR_R is written in either unit: the
// comment tells, or else a value in the range of the Sun's semidiameter is
// arcsec.
func (s *Solar) pixelRadius(h fits.Header) (radius float64, key string, ok bool) {
	for _, key := range radiusKeys {
		v, ok := h.Float(key)
		if !ok || v <= 0 || isArcsec(h, key, v) {
			continue
		}
		return v, key, true
	}
	return 0, "", false
}

// Range of the Sun's apparent radius over the year, with a margin, arcsec.
const semidiameterMin, semidiameterMax = 940, 980

func isArcsec(h fits.Header, key string, value float64) bool {
	comment := strings.ToLower(h.Comment(key))
	switch {
	case strings.Contains(comment, "arc"):
		return true
	case strings.Contains(comment, "pix"):
		return false
	case key == "R_SUN" || strings.HasPrefix(key, "FNDLMB") || key == "RADIUS":
		return false
	}
	return value > semidiameterMin && value < semidiameterMax
}

// plainCentre finds a centre in pixels. Whether it counts from 0 or 1 is told by a
// centre that lies exactly in the middle, else by habit of the keyword; the error
// of half a pixel that Read assumes covers the doubt.
func plainCentre(h fits.Header, f frame) (centre coords.Pixel, keys string, ok bool) {
	for _, k := range centreKeys {
		x, okX := h.Float(k.x)
		y, okY := h.Float(k.y)
		if !okX || !okY {
			continue
		}
		base := k.base
		switch {
		case x == (f.width-1)/2 && y == (f.height-1)/2:
			base = 0
		case x == (f.width+1)/2 && y == (f.height+1)/2:
			base = 1
		}
		return f.shown(x-base+1, y-base+1), k.x + "/" + k.y, true
	}
	// A reference pixel that stands for the Sun's centre, in a system of the
	// observatory's own.
	x, okX := h.Float("CRPIX1")
	y, okY := h.Float("CRPIX2")
	valueX, _ := h.Float("CRVAL1")
	valueY, _ := h.Float("CRVAL2")
	name, _ := h.Text("CTYPE1")
	other := strings.HasPrefix(name, "RA") || strings.HasPrefix(name, "GLON") || axisOf(h, "CTYPE1") != 0
	if !okX || !okY || valueX != 0 || valueY != 0 || name == "" || other {
		return coords.Pixel{}, "", false
	}
	return f.shown(x, y), "CRPIX1/CRPIX2", true
}

// radiusArcsec is the Sun's apparent radius: as written, or from the distance,
// arcsin(RSUN_REF/DSUN_OBS).
func radiusArcsec(h fits.Header) float64 {
	const nearest = 3000 // arcsec: a probe at 0.32 au
	for _, key := range []string{"RSUN_OBS", "RSUN_ARC"} {
		if v, ok := h.Float(key); ok && v > 100 && v < 5*nearest {
			return v
		}
	}
	for _, key := range []string{"SOLAR-R", "SOLAR_R", "RSUN", "SEMIDIAM"} {
		if v, ok := h.Float(key); ok && v > 100 && v < nearest && isArcsec(h, key, v) {
			return v
		}
	}
	if distance, ok := h.Float("DSUN_OBS"); ok && distance > 5e9 { // metres
		reference, ok := h.Float("RSUN_REF")
		if !ok || reference < 690e6 || reference > 720e6 {
			reference = coords.SolarRadiusMm * 1e6
		}
		return coords.Asin(reference / distance).Arcseconds()
	}
	return 0
}

const astronomicalUnit = 149597870700 // metres, IAU 2012 Resolution B2

func readObserver(h fits.Header) Observer {
	angle := func(limit float64, keys ...string) *coords.Angle {
		for _, key := range keys {
			if v, ok := h.Float(key); ok && math.Abs(v) <= limit {
				a := coords.Angle(v) * coords.Degree
				return &a
			}
		}
		return nil
	}
	o := Observer{
		B0: angle(90, "CRLT_OBS", "HGLT_OBS", "SOLAR_B0", "SOLAR-B0", "B0", "LATITUD"),
		L0: angle(360, "CRLN_OBS", "SOLAR_L0", "SOLAR-L0", "L0", "LONGCARR"),
		P:  angle(27, "SOLAR_P", "SOLAR-P", "SOLAR_P0", "P_ANGLE"),
	}
	if v, ok := h.Float("DSUN_OBS"); ok && v > 5e9 && v < 5e11 {
		o.DistanceAU = v / astronomicalUnit
	}
	return o
}

// checkObserver warns of pictures that were not taken from here.
func (s *Solar) checkObserver(h fits.Header) {
	if v, ok := h.Float("HGLN_OBS"); ok {
		if away := (coords.Angle(v) * coords.Degree).Wrap180(); away.Abs() > coords.Degree {
			s.warn("the picture was taken %.1f° in longitude away from the Earth: the Earth's P, B0 and L0 don't hold", away.Degrees())
		}
	}
	if b0 := s.Observer.B0; b0 != nil && b0.Abs() > 7.4*coords.Degree {
		s.warn("the header's B0 of %.2f° is never seen from the Earth", b0.Degrees())
	}
}
