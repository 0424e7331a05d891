package chart

import (
	"image"
	"math"
	"slices"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/sample"
)

// Weaving: every look's disc is flattened (divided by the median brightness at its
// distance from the centre, which takes out the darkening toward the limb and the
// exposure), turned into longitude and latitude, and joined with the others. Each
// look weighs by exp(−½ (CMD / weaveSigma)²), so that a longitude is mostly what was
// seen nearest to the meridian, and a lost day is filled from its neighbours.
const (
	weaveSigma = 9.0    // degrees of central meridian distance
	weaveTo    = seenTo // beyond it nothing is taken
	weaveMu    = 0.17   // nor where the surface is seen more obliquely than this
	weaveGrid  = 2      // degrees between places that are projected exactly
)

// weave makes the woven map, nil when no look has a picture.
func (m *strip) weave() image.Image {
	var looks []*remapped
	finest := 0.0 // radius of a disc in pixels of its picture
	for _, l := range m.looks {
		centre := m.meridianX(l.UTC)
		if l.Picture == nil || l.View == nil || centre < -weaveTo || centre > 360+weaveTo {
			continue
		}
		r := newRemapped(l, centre, m.area.Width*m.Density/360*57.3)
		looks = append(looks, r)
		finest = max(finest, r.view.Limb.RadiusPx*r.shown.scale)
	}
	if len(looks) == 0 {
		return nil
	}
	// More pixels than the pictures have would show nothing more.
	width := int(min(m.area.Width*m.Density, 360*finest/57.3*1.3))
	height := int(float64(width) * m.area.Height / m.area.Width)
	sum, weight := make([]float64, width*height), make([]float64, width*height)
	nearest := nearestLook(looks, width)
	for _, r := range looks {
		r.addTo(sum, weight, width, height, nearest)
	}
	const threshold = 1e-15
	var ratios []float64
	for i := 0; i < len(sum); i += 7 {
		if weight[i] > threshold {
			ratios = append(ratios, sum[i]/weight[i])
		}
	}
	if len(ratios) == 0 {
		return nil
	}
	slices.Sort(ratios)
	low, high := ratios[len(ratios)*2/1000], ratios[len(ratios)*998/1000]
	// The quiet Sun, at 1, becomes a middle grey; what is darker and what is brighter
	// each have their own share of the range, at least what shows granules as quiet.
	dark, light := max(1-low, 0.3), max(high-1, 0.25)
	value := func(i int) float64 {
		if weight[i] <= threshold {
			return -1
		}
		if r := sum[i]/weight[i] - 1; r < 0 {
			return max(0, 0.5+0.46*r/dark)
		} else {
			return min(1, 0.5+0.46*r/light)
		}
	}
	return tinted(width, height, value, m.Theme, m.Theme.Unseen)
}

// remapped is a look's picture with what is needed to read it by longitude.
type remapped struct {
	shown   shown
	view    disc.View
	profile [64]float64
	grid    [][]coords.Pixel // by latitude and CMD, weaveGrid apart
	centre  float64          // x of the central meridian
}

func newRemapped(l Look, centre, wantPx float64) *remapped {
	r := &remapped{shown: newShown(l.Picture, l.FrameWidthPx, l.View.Limb.RadiusPx, wantPx), view: *l.View, centre: centre}
	r.profile = radialMedian(r.shown, r.view)
	for lat := -90; lat <= 90; lat += weaveGrid {
		var row []coords.Pixel
		for cmd := -90; cmd <= 90; cmd += weaveGrid {
			h := coords.Heliographic{B: coords.Angle(lat) * coords.Degree, L: r.view.Face.L0 + coords.Angle(cmd)*coords.Degree}
			p, _ := r.view.Project(h, 0)
			row = append(row, p)
		}
		r.grid = append(r.grid, row)
	}
	return r
}

// radialMedian is the median brightness of a disc by distance from its centre, in
// equal steps of the square of it.
func radialMedian(s shown, v disc.View) (profile [64]float64) {
	var rings [64][]float64
	const across = 220
	for row := range across {
		for column := range across {
			x, y := 2*(float64(column)+0.5)/across-1, 2*(float64(row)+0.5)/across-1
			square := x*x + y*y
			if square >= 1 {
				continue
			}
			at := v.Limb.At(x, y)
			if level := s.at(at.X, at.Y); level != unseen {
				i := int(square * 64)
				rings[i] = append(rings[i], float64(level))
			}
		}
	}
	last := 0.0
	for i := range rings {
		if len(rings[i]) > 0 {
			last = sample.MedianOf(rings[i])
		}
		profile[i] = last
	}
	return profile
}

// level is the brightness at a pixel against the median at its distance.
func (r *remapped) level(p coords.Pixel) (float64, bool) {
	level := r.shown.at(p.X, p.Y)
	if level == unseen {
		return 0, false
	}
	u, v := r.view.Limb.Unit(p)
	at := (u*u+v*v)*64 - 0.5
	i := max(0, min(62, int(at)))
	f := max(0, min(1, at-float64(i)))
	usual := r.profile[i]*(1-f) + r.profile[i+1]*f
	if usual <= 0 {
		return 0, false
	}
	return float64(level) / usual, true
}

// nearestLook is for each column of the map how far its nearest look's meridian is,
// in degrees.
func nearestLook(looks []*remapped, width int) []float64 {
	nearest := make([]float64, width)
	for column := range nearest {
		nearest[column] = math.Inf(1)
		for _, r := range looks {
			cmd := (float64(column)+0.5)*360/float64(width) - r.centre
			nearest[column] = min(nearest[column], math.Abs(cmd))
		}
	}
	return nearest
}

// addTo adds the look to the map, but for columns where a nearer look outweighs it a
// thousand times.
func (r *remapped) addTo(sum, weight []float64, width, height int, nearest []float64) {
	weightAt := func(cmd float64) float64 { return math.Exp(-0.5 * cmd * cmd / (weaveSigma * weaveSigma)) }
	type column struct {
		at               int
		cmd, cos, weight float64
	}
	var columns []column
	for i := range width {
		cmd := (float64(i)+0.5)*360/float64(width) - r.centre
		if w := weightAt(cmd); math.Abs(cmd) <= weaveTo && w >= 1e-3*weightAt(nearest[i]) {
			columns = append(columns, column{i, cmd, math.Cos(cmd * math.Pi / 180), w})
		}
	}
	sinB0, cosB0 := r.view.Face.B0.Sincos()
	for row := range height {
		lat := 90 - (float64(row)+0.5)*180/float64(height)
		sinB, cosB := math.Sincos(lat * math.Pi / 180)
		for _, c := range columns {
			if sinB*sinB0+cosB*cosB0*c.cos < weaveMu {
				continue
			}
			if level, ok := r.level(r.pixel(lat, c.cmd)); ok {
				i := row*width + c.at
				sum[i] += c.weight * level
				weight[i] += c.weight
			}
		}
	}
}

// pixel is where a place is seen, between the places of the grid.
func (r *remapped) pixel(lat, cmd float64) coords.Pixel {
	x, y := (cmd+90)/weaveGrid, (lat+90)/weaveGrid
	i, j := min(int(x), len(r.grid[0])-2), min(int(y), len(r.grid)-2)
	fx, fy := x-float64(i), y-float64(j)
	a, b, c, d := r.grid[j][i], r.grid[j][i+1], r.grid[j+1][i], r.grid[j+1][i+1]
	return coords.Pixel{
		X: sample.Bilinear(a.X, b.X, c.X, d.X, fx, fy),
		Y: sample.Bilinear(a.Y, b.Y, c.Y, d.Y, fx, fy),
	}
}
