package follow

import (
	"cmp"
	"math"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// Glimpse is as much of a sighting as counts for how many features there are.
type Glimpse struct {
	UTC   time.Time
	Frame string
	Kind  catalog.Kind
	Lat   coords.Angle
}

// glimpses are all that a record shows, with what was seen around it, in order of time.
func (r *record) glimpses(around []Glimpse) []Glimpse {
	all := make([]Glimpse, 0, len(r.seen)+len(around))
	for i := range r.seen {
		s := &r.seen[i]
		all = append(all, Glimpse{s.UTC, s.Frame, s.Kind, s.Place.B})
	}
	all = append(all, around...)
	slices.SortStableFunc(all, func(a, b Glimpse) int {
		return cmp.Or(a.UTC.Compare(b.UTC), cmp.Compare(a.Frame, b.Frame))
	})
	return all
}

// density is how many features of each nature a frame shows per square degree of
// latitude and longitude, by latitude and by rotation.
type density struct {
	firstDay float64
	perDeg2  [natures][][]float64 // by time, by latitude
}

const (
	bandDeg    = 5.0
	bands      = 36
	seasonDays = 27.2753 // one rotation
	spanDeg    = 150.0   // of longitude in which features are marked
)

// newDensity counts glimpses, which are in order of time, those of a frame together.
func newDensity(seen []Glimpse) density {
	var d density
	if len(seen) == 0 {
		return d
	}
	// Seasons begin on the same days whatever part of a record is followed.
	d.firstDay = math.Floor(daysOf(seen[0].UTC)/seasonDays) * seasonDays
	seasons := d.season(daysOf(seen[len(seen)-1].UTC)) + 1
	var counts [natures][][]float64
	for t := range counts {
		counts[t] = make([][]float64, seasons)
		for i := range counts[t] {
			counts[t][i] = make([]float64, bands)
		}
	}
	looks, season := make([]float64, seasons), 0
	for i, g := range seen {
		if i == 0 || g.Frame != seen[i-1].Frame || !g.UTC.Equal(seen[i-1].UTC) {
			season = d.season(daysOf(g.UTC))
			looks[season]++
		}
		counts[natureOf[g.Kind]][season][band(g.Lat.Degrees())]++
	}
	for t := range d.perDeg2 {
		d.perDeg2[t] = smoothed(counts[t], looks)
	}
	return d
}

func (d *density) season(day float64) int { return int((day - d.firstDay) / seasonDays) }

func band(latDeg float64) int { return max(0, min(bands-1, int((latDeg+90)/bandDeg))) }

// smoothed turns counts by season and band, and frames by season, into densities.
// Half a mark a season is added, spread over all bands: what was not seen yet may
// come.
func smoothed(counts [][]float64, looks []float64) [][]float64 {
	const unseen = 0.5 / bands
	kernel := [3]float64{0.25, 0.5, 0.25}
	out := make([][]float64, len(counts))
	for i := range out {
		out[i] = make([]float64, bands)
		for b := range bands {
			marks, frames := 0.0, 0.0
			for di, wi := range kernel {
				season := i + di - 1
				if season < 0 || season >= len(counts) {
					continue
				}
				frames += wi * looks[season]
				for db, wb := range kernel {
					if at := b + db - 1; at >= 0 && at < bands {
						marks += wi * wb * counts[season][at]
					}
				}
			}
			out[i][b] = (marks + unseen) / (max(frames, 1) * bandDeg * spanDeg)
		}
	}
	return out
}

// at is the density at a node's place and time, for each nature.
func (d *density) at(n *node) likelihood {
	var l likelihood
	season, at := d.season(n.day), band(n.lat)
	for t := range l {
		l[t] = d.perDeg2[t][season][at]
	}
	return l
}
