package follow

import (
	"math"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// FilamentDensity is how many filaments stand on the Sun at a time per square
// degree of latitude and longitude, by distance from the equator in bands of 10°.
type FilamentDensity [9]float64

// listedFilaments is counted from the filament lists of Big Bear and Kanzelhöhe,
// August of 2000, 2002, 2004, 2006, 2007 and 2010 (Bernasconi, Rust & Hakim 2005;
// Hazra et al. 2018): 1130 filaments within 60° of the central meridian in 79
// pictures, half a cycle from maximum to minimum. TestDensityOfListedFilaments
// counts them again. Poleward of 70° hardly any were listed; there a floor stands,
// as crowns of filaments do reach so far at some time of every cycle.
var listedFilaments = FilamentDensity{
	1.20e-3, 1.39e-3, 1.55e-3, 0.84e-3, 0.50e-3, 0.40e-3, 0.07e-3, 0.05e-3, 0.02e-3,
}

// densityReachDeg bounds the central meridian distance of the marks counted:
// farther out filaments are hard to see.
const densityReachDeg = 60

// DensityOf counts the filaments marked in a catalogue. The listed ones
// stand in for as many looks as listedLooks, so that a young catalogue uses them
// and an old one its own.
func DensityOf(sightings []Sighting) FilamentDensity {
	const listedLooks = 15
	looks := map[int64]bool{}
	var count FilamentDensity
	for i := range sightings {
		s := &sightings[i]
		if s.Kind != catalog.Filament {
			continue
		}
		looks[s.UTC.UnixNano()] = true
		if s.Face.CMD(s.Place.Heliographic).Abs() <= densityReachDeg*coords.Degree {
			count[densityBand(s.Place.B)]++
		}
	}
	const area = 2 * 10 * 2 * densityReachDeg // both hemispheres
	for i := range count {
		count[i] = (count[i]/area + listedLooks*listedFilaments[i]) / (float64(len(looks)) + listedLooks)
	}
	return count
}

func densityBand(lat coords.Angle) int {
	return min(8, int(math.Abs(lat.Degrees())/10))
}

// at is the density at a latitude, joined in straight lines between the middles of
// the bands.
func (d *FilamentDensity) at(lat coords.Angle) float64 {
	x := math.Abs(lat.Degrees())/10 - 0.5
	i := max(0, min(7, int(math.Floor(x))))
	f := max(0, min(1, x-float64(i)))
	return d[i]*(1-f) + d[i+1]*f
}
