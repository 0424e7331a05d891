package ephemeris

import (
	"time"

	"github.com/soniakeys/meeus/v3/globe"
	"github.com/soniakeys/meeus/v3/parallactic"
	"github.com/soniakeys/meeus/v3/parallax"
	"github.com/soniakeys/meeus/v3/refraction"
	"github.com/soniakeys/unit"

	"limbwatch/coords"
)

// Horizon is the Sun's centre in the sky of a site, parallax included,
// refraction not.
//
//	Altitude     above the horizon, without refraction
//	Azimuth      from north through east, 0° to 360°
//	HourAngle    west of the meridian positive, −180° to 180°
//	Parallactic  position angle of the zenith at the Sun, from celestial north
//	             through east, −180° to 180°; negative before noon in the north
type Horizon struct {
	Altitude, Azimuth, HourAngle, Parallactic coords.Angle
}

// FromSite is the Sun at t for a site at sea level, by geodetic latitude (north
// positive) and longitude (east positive).
//
// UTC is taken as UT1, which is up to 0.9 s wrong: 0.004° of hour angle.
func FromSite(t time.Time, lat, lonEast coords.Angle) Horizon {
	sun := SunAt(t)
	ρsinφ, ρcosφ := globe.Earth76.ParallaxConstants(unit.Angle(lat), 0)
	// meeus counts longitudes west positive.
	hour, declination := parallax.Topocentric3(unit.RA(sun.RA), unit.Angle(sun.Dec), sun.DistanceAU,
		ρsinφ, ρcosφ, unit.Angle(-lonEast), JulianDay(t))
	h := Horizon{
		HourAngle:   coords.Angle(hour).Wrap180(),
		Parallactic: coords.Angle(parallactic.ParallacticAngle(unit.Angle(lat), declination, hour)),
	}
	// In axes of the meridian (x south, y east, z up), Meeus (13.5) and (13.6).
	toward := direction(-h.HourAngle, coords.Angle(declination))
	south, east, up := toward.turnMeridian(lat)
	h.Azimuth = coords.Atan2(east, -south).Wrap360()
	h.Altitude = coords.Asin(up)
	return h
}

// turnMeridian gives a direction (x to the equator at the meridian, y east,
// z to the celestial pole) by its parts toward south, east and the zenith.
func (a vector) turnMeridian(lat coords.Angle) (south, east, up float64) {
	sin, cos := lat.Sincos()
	return sin*a[0] - cos*a[2], a[1], cos*a[0] + sin*a[2]
}

// Refraction is how much a mean atmosphere at sea level (1010 hPa, 10 °C) lifts
// a body whose true altitude is given: Sæmundsson's formula, Meeus (16.4), good
// to 0.1′ above the horizon. Below −1° of altitude there is nothing to see and
// 0 is given.
func Refraction(trueAltitude coords.Angle) coords.Angle {
	if trueAltitude < -1*coords.Degree {
		return 0
	}
	return max(0, coords.Angle(refraction.Saemundsson(unit.Angle(trueAltitude))))
}

// Drift is how the Sun moves over a camera that stands still on the Earth, each
// second of time: to the west and to the north on the sky.
type Drift struct {
	West, North coords.Angle
}

// DriftAt is the Sun's drift at t as seen from the Earth's centre: about 15″ a
// second west, up to 0.017″ a second north or south. Parallax (4e-5 of it) and
// refraction are left out; refraction bends the path of a Sun below 20° of
// altitude by more than the motion in declination does.
func DriftAt(t time.Time) Drift {
	const (
		half = time.Hour
		// The Earth turns by a full circle in a sidereal day: 2π/86164.0905 s.
		turnPerSecond coords.Angle = 7.2921159e-5
	)
	before, now, after := SunAt(t.Add(-half)), SunAt(t), SunAt(t.Add(half))
	perSecond := coords.Angle(1 / (2 * half.Seconds()))
	eastward := (after.RA - before.RA).Wrap180() * perSecond
	return Drift{
		West:  (turnPerSecond - eastward) * coords.Angle(now.Dec.Cos()),
		North: (after.Dec - before.Dec) * perSecond,
	}
}

// Angle is the position angle toward which the Sun drifts: near 270° (west),
// more when it moves north.
func (d Drift) Angle() coords.Angle {
	return coords.Atan2(-float64(d.West), float64(d.North)).Wrap360()
}
