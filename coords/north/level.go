package north

import (
	"fmt"
	"math"
	"time"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// Site is where a telescope stands: geodetic latitude, north positive, and
// longitude, east positive.
type Site struct {
	Lat, LonEast coords.Angle
}

// Level is how a camera lies against the horizon.
//
//	Zenith    where the zenith is in the picture, counter-clockwise from up; 0 for
//	          an upright, level camera
//	Mirrored  east lies clockwise of north
//	Sigma     standard error of Zenith
type Level struct {
	Zenith   coords.Angle
	Mirrored bool
	Sigma    coords.Angle
}

// FromLevel finds north from a camera whose lie against the horizon is known, as
// on an alt-azimuth mount, from site and time: the zenith stands at the
// parallactic angle q from celestial north (Meeus, Astronomical Algorithms, 2nd
// ed., ch. 14). sigmaTime is the standard error of the time.
//
// It refuses a Sun below the horizon, and one so near the zenith that q turns
// faster than the time is known.
func FromLevel(t time.Time, sigmaTime time.Duration, site Site, level Level) (Found, error) {
	if site.Lat.Abs() > 90*coords.Degree {
		return Found{}, fmt.Errorf("site latitude %.4f deg, need −90 to 90", site.Lat.Degrees())
	}
	if !(level.Sigma > 0) {
		return Found{}, fmt.Errorf("error of the camera's tilt %.3g deg, need more than 0", level.Sigma.Degrees())
	}
	sky := ephemeris.FromSite(t, site.Lat, site.LonEast)
	if sky.Altitude+ephemeris.Refraction(sky.Altitude) < 0 {
		return Found{}, fmt.Errorf("the Sun stands %.1f deg below the horizon at %s", -sky.Altitude.Degrees(), t.UTC().Format("2006-01-02 15:04Z"))
	}
	// UTC is taken as UT1, up to 0.9 s off.
	const (
		ut1  = 0.5 // seconds, standard error
		step = 10 * time.Second
	)
	before := ephemeris.FromSite(t.Add(-step), site.Lat, site.LonEast).Parallactic
	after := ephemeris.FromSite(t.Add(step), site.Lat, site.LonEast).Parallactic
	perSecond := (after - before).Wrap180() / coords.Angle(2*step.Seconds())
	turning := perSecond * coords.Angle(math.Hypot(sigmaTime.Seconds(), ut1))
	if turning.Abs() > 5*coords.Degree {
		return Found{}, fmt.Errorf("the Sun stands %.2f deg from the zenith, where the field turns %.1f deg a minute: the time is not known well enough",
			90-sky.Altitude.Degrees(), perSecond.Abs().Degrees()*60)
	}
	found, err := Typed(coords.North{
		Angle:    at(level.Zenith, sky.Parallactic, level.Mirrored),
		Mirrored: level.Mirrored,
		Sigma:    coords.Angle(math.Hypot(float64(level.Sigma), float64(turning))),
	})
	if err != nil {
		return Found{}, err
	}
	found.Method = MethodLevel
	found.Why = fmt.Sprintf("zenith at %.2f° in the picture, parallactic angle %.2f° (Sun %.1f° high): celestial north at %.2f° ± %.2f°, %s",
		level.Zenith.Degrees(), sky.Parallactic.Degrees(), sky.Altitude.Degrees(), found.Angle.Degrees(), found.Sigma.Degrees(), Handed(level.Mirrored))
	return found, nil
}
