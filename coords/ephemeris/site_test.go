package ephemeris

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"limbwatch/coords"
	"limbwatch/testdata"
)

// The Sun over invented sites, against Astropy. The table knows UT1, we take
// UTC for it: up to 0.004° of hour angle.
func TestFromSiteAgainstAstropy(t *testing.T) {
	var altitude, azimuth, parallactic, hour, north worst
	rows := testdata.Table(t, published+"altaz.csv")
	for _, r := range rows {
		at := instant(t, r["utc"])
		h := FromSite(at, degrees(t, r, "site_lat_deg"), degrees(t, r, "site_lon_deg"))
		altitude.see(apart(h.Altitude, degrees(t, r, "alt_deg")))
		// Near the zenith an azimuth is worth less sky.
		azimuth.see(apart(h.Azimuth, degrees(t, r, "az_deg")) * h.Altitude.Cos())
		hour.see(apart(h.HourAngle, degrees(t, r, "ha_deg")))
		parallactic.see(apart(h.Parallactic, degrees(t, r, "pa_zenith_deg")) * h.Altitude.Cos())
		north.see(apart(At(at).P-h.Parallactic, degrees(t, r, "solar_north_from_zenith_deg")) * h.Altitude.Cos())
	}
	t.Logf("%d sites, worst: altitude %.4f°, azimuth %.4f° (on the sky), hour angle %.4f°, parallactic angle %.4f°, solar north %.4f° (both times cos altitude)",
		len(rows), altitude, azimuth, hour, parallactic, north)
	for name, w := range map[string]worst{"altitude": altitude, "azimuth": azimuth, "hour angle": hour, "parallactic": parallactic, "solar north": north} {
		assert.Less(t, float64(w), 0.006, name)
	}
}

// The same rows with the Earth turned to UT1: what is left is the method's own.
func TestFromSiteWithUT1(t *testing.T) {
	for _, r := range testdata.Table(t, published+"altaz.csv") {
		utc := instant(t, r["utc"])
		ut1 := utc.Add(time.Duration(r.Number(t, "ut1_minus_utc_s") * float64(time.Second)))
		h := FromSite(ut1, degrees(t, r, "site_lat_deg"), degrees(t, r, "site_lon_deg"))
		assert.Less(t, apart(h.Altitude, degrees(t, r, "alt_deg")), 0.001, "%s", r["utc"])
		assert.Less(t, apart(h.Azimuth, degrees(t, r, "az_deg"))*h.Altitude.Cos(), 0.001, "%s", r["utc"])
		assert.Less(t, apart(h.HourAngle, degrees(t, r, "ha_deg")), 0.001, "%s", r["utc"])
		assert.Less(t, apart(h.Parallactic, degrees(t, r, "parallactic_deg"))*h.Altitude.Cos(), 0.001, "%s", r["utc"])
	}
}

func TestRefraction(t *testing.T) {
	// Bennett 1982 and Meeus chapter 16: 34.5′ at an apparent altitude of 0°,
	// which is 28.98′ at a true one of 0°; 1′ at 45°.
	assert.InDelta(t, 28.98, Refraction(0).Degrees()*60, 0.3)
	assert.InDelta(t, 1.0, Refraction(45*coords.Degree).Degrees()*60, 0.03)
	assert.Zero(t, Refraction(-10*coords.Degree))
	assert.GreaterOrEqual(t, float64(Refraction(90*coords.Degree)), 0.0)
}

func TestDrift(t *testing.T) {
	// At the equinox the Sun moves north by 23.70′ a day (0.987′ an hour), in
	// declination 0 the sky turns by 15.04″ a second and the Sun's own motion in
	// right ascension is 54.7′ a day there. Common practice, no source.
	equinox := DriftAt(time.Date(2024, 3, 20, 3, 6, 0, 0, time.UTC))
	assert.InDelta(t, 23.70*60/secondsPerDay, equinox.North.Arcseconds(), 0.0002)
	assert.InDelta(t, 15.0411-54.7*60/secondsPerDay, equinox.West.Arcseconds(), 0.002)
	assert.InDelta(t, 270.063, equinox.Angle().Degrees(), 0.001)

	// At the solstice it moves due west, slower by cos 23.44°.
	solstice := DriftAt(time.Date(2024, 6, 20, 20, 51, 0, 0, time.UTC))
	assert.InDelta(t, 0, solstice.North.Arcseconds(), 0.0001)
	assert.InDelta(t, 270, solstice.Angle().Degrees(), 0.0005)
	assert.InDelta(t, (15.0411-62.4*60/secondsPerDay)*0.91748, solstice.West.Arcseconds(), 0.002)
}
