package ephemeris

import (
	"time"

	"github.com/soniakeys/meeus/v3/nutation"

	"limbwatch/coords"
)

const (
	auKm             = 149597870.7 // IAU 2012 Resolution B2
	lightKmPerSecond = 299792.458
	solarRadiusKm    = coords.SolarRadiusMm * 1000
)

// The rotation elements of the Sun, Archinal et al. 2018 (IAU working group on
// cartographic coordinates, report of 2015).
const (
	poleRA  = 286.13 * coords.Degree
	poleDec = 63.87 * coords.Degree
	// Prime meridian from the node of the Sun's equator on the ICRF equator, at J2000.0.
	meridianAtJ2000 = 84.176 * coords.Degree
	// CarringtonDegPerDay is the sidereal rotation that Carrington longitudes
	// turn with.
	CarringtonDegPerDay = 14.1844
)

// Axes of the Sun in the ICRF: its pole, and the ascending node of its equator.
var (
	solarPole = direction(poleRA, poleDec)
	solarNode = direction(poleRA+90*coords.Degree, 0)
)

// Sun is the Sun as seen from the Earth's centre at one instant.
//
//	Face      how the disc stands: P, B0, L0, size, distance
//	Rotation  Carrington's rotation number with its fraction, 1 − L0/360°
//	RA, Dec   apparent place: true equator and equinox of date, with aberration
//	Longitude apparent ecliptic longitude, true equinox of date
type Sun struct {
	coords.Face
	Rotation  float64
	RA, Dec   coords.Angle
	Longitude coords.Angle
}

// At is the Sun's face toward the Earth at t. Accuracy and conventions are
// those of the package; see Check for the years it holds in.
func At(t time.Time) coords.Face { return AtTT(JulianDayTT(t)) }

// AtTT is At for a Julian date in Terrestrial Time.
func AtTT(jdeTT float64) coords.Face { return sunAtTT(jdeTT).Face }

// SunAt is the Sun in full at t: its face, rotation number and apparent place.
func SunAt(t time.Time) Sun { return SunAtTT(JulianDayTT(t)) }

// SunAtTT is SunAt for a Julian date in Terrestrial Time.
func SunAtTT(jdeTT float64) Sun {
	s := sunAtTT(jdeTT)
	s.Rotation = rotationNumber(jdeTT, s.L0)
	return s
}

// sunAtTT computes all but the rotation number. Its vectors are in the axes of
// the mean ecliptic and equinox of date.
func sunAtTT(jdeTT float64) Sun {
	longitude, latitude, distanceAU := earth(jdeTT)
	fromSun := direction(longitude, latitude)
	pole, node := toEclipticOfDate(jdeTT, solarPole), toEclipticOfDate(jdeTT, solarNode)

	var s Sun
	s.DistanceAU = distanceAU
	s.Semidiameter = coords.Asin(solarRadiusKm / (distanceAU * auKm))
	s.B0 = coords.Asin(fromSun.dot(pole))
	fromNode := coords.Atan2(fromSun.dot(pole.cross(node)), fromSun.dot(node))
	s.L0 = (fromNode - meridian(jdeTT, distanceAU)).Wrap360()

	// Aberration, Meeus (25.10): the constant of aberration with the mean
	// eccentricity of the orbit in it.
	aberration := -20.4898 * coords.Arcsecond / coords.Angle(distanceAU)
	toSun := fromSun.scaled(-1)
	seen := direction(longitude+180*coords.Degree+aberration, -latitude)

	// meeus takes any angle in radians, as Angle is.
	Δψ, Δε := nutation.Nutation(jdeTT)
	nutationLongitude := coords.Angle(Δψ)
	obliquity := meanObliquity(jdeTT) + coords.Angle(Δε)

	s.P = positionAngle(pole, toSun, seen, direction(90*coords.Degree-nutationLongitude, 90*coords.Degree-obliquity))
	trueEcliptic := seen.turnZ(-nutationLongitude)
	s.Longitude, _ = trueEcliptic.spherical()
	s.RA, s.Dec = trueEcliptic.turnX(-obliquity).spherical()
	return s
}

// meridian is the angle W of the Sun's prime meridian from its node when the
// light that arrives at jdeTT left the nearest point of its surface.
func meridian(jdeTT, distanceAU float64) coords.Angle {
	lightDays := (distanceAU*auKm - solarRadiusKm) / lightKmPerSecond / secondsPerDay
	return meridianAtJ2000 + coords.Angle(CarringtonDegPerDay*(jdeTT-lightDays-j2000))*coords.Degree
}

// positionAngle is the angle of the Sun's axis on the sky, from the celestial
// pole through east, −180° to 180°.
//
// Aberration carries the disc from toSun to seen. It leaves shapes alone, so the
// axis as projected on the sky at toSun is carried along, and not projected anew
// at seen: the two ways differ by up to 0.0007°.
func positionAngle(axis, toSun, seen, celestialPole vector) coords.Angle {
	onSky := axis.across(toSun).across(seen)
	east := celestialPole.cross(seen)
	north := seen.cross(east)
	return coords.Atan2(onSky.dot(east), onSky.dot(north))
}

// toEclipticOfDate turns a direction from the ICRF to the mean ecliptic and
// equinox of date: the angles γ, φ and ψ of Fukushima and Williams for the
// precession of IAU 2006 (Hilton et al. 2006, Celest. Mech. Dyn. Astr. 94, 351;
// coefficients with the frame bias, as in ERFA's pfw06).
func toEclipticOfDate(jdeTT float64, v vector) vector {
	T := (jdeTT - j2000) / 36525
	γ := horner(T, -0.052928, 10.556378, 0.4932044, -0.00031238, -0.000002788, 0.0000000260)
	φ := horner(T, 84381.412819, -46.811016, 0.0511268, 0.00053289, -0.000000440, -0.0000000176)
	ψ := horner(T, -0.041775, 5038.481484, 1.5584175, -0.00018522, -0.000026452, -0.0000000148)
	return v.turnZ(arcseconds(γ)).turnX(arcseconds(φ)).turnZ(arcseconds(-ψ))
}

// meanObliquity is that of IAU 2006 (as ERFA's obl06).
func meanObliquity(jdeTT float64) coords.Angle {
	T := (jdeTT - j2000) / 36525
	return arcseconds(horner(T, 84381.406, -46.836769, -0.0001831, 0.00200340, -0.000000576, -0.0000000434))
}

func arcseconds(v float64) coords.Angle { return coords.Angle(v) * coords.Arcsecond }
