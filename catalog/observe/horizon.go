package observe

import (
	"fmt"
	"math"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// What counts as below the horizon. Refraction lifts the Sun's centre by 0.57° and its
// upper edge stands 0.27° above it (Meeus, Astronomical Algorithms, ch. 15); from so many
// metres up the horizon itself lies 1.76′ times their root lower (ch. 15, dip).
const (
	setAltitude    = -0.83 * coords.Degree
	dipPerRootM    = 1.76 / 60 * coords.Degree
	turnsPerSecond = 15.0 / 3600 * coords.Degree // of the sky
	wellUp         = 5 * coords.Degree
)

// belowHorizon tells when the Sun was not up at the site of an own picture at its time:
// the cheapest test of a wrong zone, and of a site's latitude and longitude exchanged. Of
// an archive's picture, which says in its header how it lies, or of one from elsewhere,
// the sitting's site tells nothing.
func belowHorizon(b catalog.Bearings) (*catalog.Warning, error) {
	f, site := b.Frame, b.Site
	archive := b.Disc != nil && b.Disc.Method == catalog.DiscHeader
	if site == nil || f.Reference || !f.HasFile() || archive {
		return nil, nil
	}
	at := instantOf(b)
	if at.err != nil {
		return nil, nil // that such a time has no ephemeris is told with its positions
	}
	altitude := altitudeAt(at.utc, site.LatDeg, site.LonDeg)
	lowest := setAltitude - dipPerRootM*coords.Angle(math.Sqrt(max(0, site.ElevationM))) - turnsPerSecond*coords.Angle(2*f.SigmaS)
	if altitude >= lowest {
		return nil, nil
	}
	words := fmt.Sprintf("at %s the Sun stood %.0f° below the horizon of %s: its time, its zone or the site is wrong",
		at.utc.Format("2006-01-02 15:04 UTC"), -altitude.Degrees(), site.Name)
	if fits := whatFits(at.utc, *site); len(fits) > 0 {
		words += "; it would have been up " + strings.Join(fits, ", or ")
	}
	return &catalog.Warning{Cause: catalog.CauseHorizon, Words: words,
		Basis: fmt.Sprintf("%s at %.2f, %.2f", at.utc.Format("2006-01-02T15:04Z"), site.LatDeg, site.LonDeg)}, nil
}

func altitudeAt(at time.Time, latDeg, lonDeg float64) coords.Angle {
	return ephemeris.FromSite(at, degrees(latDeg), degrees(lonDeg)).Altitude
}

// whatFits lists the usual slips under which the Sun was well up.
func whatFits(at time.Time, site catalog.Site) (fits []string) {
	up := func(at time.Time, latDeg, lonDeg float64) bool { return altitudeAt(at, latDeg, lonDeg) > wellUp }
	if zone, err := site.Location(); err == nil && site.Zone != "" {
		if _, ahead := at.In(zone).Zone(); ahead != 0 {
			offset := time.Duration(ahead) * time.Second
			if up(at.Add(-offset), site.LatDeg, site.LonDeg) {
				fits = append(fits, "if the time is that of "+site.Zone+" and was taken for UTC")
			}
			if up(at.Add(offset), site.LatDeg, site.LonDeg) {
				fits = append(fits, "if the time is UTC and was taken for that of "+site.Zone)
			}
		}
	}
	if math.Abs(site.LonDeg) <= 90 && up(at, site.LonDeg, site.LatDeg) {
		fits = append(fits, "if latitude and longitude of the site are exchanged")
	}
	if up(at, site.LatDeg, -site.LonDeg) {
		fits = append(fits, "if the site's longitude has the wrong sign")
	}
	if up(at.Add(12*time.Hour), site.LatDeg, site.LonDeg) {
		fits = append(fits, "twelve hours apart")
	}
	return fits
}
