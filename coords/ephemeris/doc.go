// Package ephemeris says how the Sun stands at an instant: the tilt P of its
// axis, latitude B0 and Carrington longitude L0 of the disc's centre, its
// apparent size, its place in the sky of the Earth and of a site.
//
// [At] is the one door from a time to P, B0 and L0.
//
// # What it is made of
//
// The rotation elements of the IAU (Archinal et al. 2018, Celest. Mech. Dyn.
// Astr. 130:22): pole at right ascension 286.13°, declination 63.87° (ICRF),
// prime meridian W = 84.176° + 14.1844° a day from J2000.0. They are carried to
// the date by the precession of IAU 2006 and the nutation of IAU 1980, on a
// Sun from the 134 largest terms of VSOP87D (earth.csv).
//
// Carrington's own elements (25.38 days, I = 7.25°, node 73.67° in 1850; Meeus,
// Astronomical Algorithms, chapter 29) differ: L0 by 0.05° today and up to
// 0.012° in P and B0.
//
// # Which L0
//
// L0 has light time to the nearest point of the surface and no aberration. It
// is the longitude of the place on the Sun that really faces the Earth when its
// light leaves: aberration shifts the whole disc on the sky by 20″, but not the
// disc's centre on the Sun. Picture headers (CRLN_OBS) and JPL's Horizons count
// so too. The Astronomical Almanac counts light time to the Sun's centre and
// applies the aberration; its L0 is 0.0053° smaller.
//
// P is counted from the true celestial pole of date, in the direction where the
// Sun is seen (with aberration). All is for the Earth's centre: from a site the
// disc's centre lies at most 8.8″ elsewhere in the sky, 0.0025° on the Sun.
//
// # Time
//
// Times are UTC from 1972 on, with the leap seconds announced so far; after the
// last one TT − UTC stays at 69.184 s. Earlier times are UT, brought to
// Terrestrial Time by the measured delta T. See [TTMinusUTC] and [Check].
//
// # How good
//
// Against SunPy 4.1.2 with Astropy 5.2.1, 60 instants from 1909 to 2099, the
// largest differences are P 0.0002°, B0 0.0001°, L0 0.0001°, semidiameter
// 0.0013″, right ascension and declination 0.4″ (the tests print them). A call
// of At takes 6 µs.
package ephemeris
