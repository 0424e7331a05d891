package wcs

import (
	"fmt"
	"math"
	"strings"

	"limbwatch/coords"
	"limbwatch/coords/picture/fits"
)

// plane is the linear part of solar world coordinates: (x, y) = value + matrix ×
// (pixel − reference), arcsec on the sky, x to solar west and y to solar north,
// FITS pixels. At half a degree the gnomonic projection bends this by under 0.01".
type plane struct {
	reference, value [2]float64
	matrix           [2][2]float64
	arcsec           float64 // per unit of the header
	hasScale         bool
	source           string
}

// axisNames that are helioprojective longitude and latitude: Thompson 2006,
// section 4.1, and the older SOLAR_X, SOLAR_Y.
var axisNames = map[string]int{
	"HPLN": 1, "SOLAR_X": 1, "SOLARX": 1, "SOLAR-X": 1,
	"HPLT": 2, "SOLAR_Y": 2, "SOLARY": 2, "SOLAR-Y": 2,
}

func axisOf(h fits.Header, key string) int {
	name, _ := h.Text(key)
	name = strings.ToUpper(name)
	if strings.HasPrefix(name, "HPL") && len(name) >= 4 {
		name = name[:4]
	}
	return axisNames[name]
}

// readPlane reads the keywords; false when the header has no solar coordinates.
func (s *Solar) readPlane(h fits.Header) (plane, bool) {
	first, second := axisOf(h, "CTYPE1"), axisOf(h, "CTYPE2")
	if first == 2 && second == 1 {
		s.warn("solar coordinates with latitude on the first axis are not read")
		return plane{}, false
	}
	if first != 1 || second != 2 {
		return plane{}, false
	}
	p := plane{source: "solar coordinates"}
	for axis := range 2 {
		ref, ok := h.Float(fmt.Sprintf("CRPIX%d", axis+1))
		if !ok {
			s.warn("CRPIX%d is missing: solar coordinates without a reference pixel", axis+1)
			return plane{}, false
		}
		p.reference[axis] = ref
		p.value[axis], _ = h.Float(fmt.Sprintf("CRVAL%d", axis+1))
	}
	var ok bool
	if p.arcsec, ok = s.unit(h); !ok {
		return plane{}, false
	}
	s.readMatrix(h, &p)
	return p, true
}

// unit is the length of the header's angular unit in arcsec.
func (s *Solar) unit(h fits.Header) (float64, bool) {
	names := map[string]float64{
		"arcsec": 1, "arcsecs": 1, "arcsecond": 1, "arcseconds": 1, "\"": 1, "mas": 0.001,
		"arcmin": 60, "deg": 3600, "degree": 3600, "degrees": 3600, "rad": 180 * 3600 / math.Pi,
	}
	first, has := h.Text("CUNIT1")
	second, _ := h.Text("CUNIT2")
	if !has {
		s.warn("CUNIT1 is missing: arcsec assumed")
		return 1, true
	}
	unit, known := names[strings.ToLower(first)]
	if !known || (second != "" && !strings.EqualFold(first, second)) {
		s.warn("solar coordinates in %q and %q are not read", first, second)
		return 0, false
	}
	return unit, true
}

// readMatrix reads scale and turn: CDi_j; or CDELT with PCi_j; or CDELT with
// CROTA2 (Thompson 2006, equations 1 to 4 and section 8).
func (s *Solar) readMatrix(h fits.Header, p *plane) {
	var cd, pc [2][2]float64
	haveCD, havePC := false, false
	for i := range 2 {
		pc[i][i] = 1
		for j := range 2 {
			if v, ok := h.Float(fmt.Sprintf("CD%d_%d", i+1, j+1)); ok {
				cd[i][j], haveCD = v, true
			}
			if v, ok := h.Float(fmt.Sprintf("PC%d_%d", i+1, j+1)); ok {
				pc[i][j], havePC = v, true
			}
		}
	}
	turn, haveTurn := crota(h)
	scale1, _ := h.Float("CDELT1")
	scale2, _ := h.Float("CDELT2")
	switch {
	case haveCD:
		p.matrix = cd
		p.source += ", CDi_j"
	case havePC:
		p.matrix = [2][2]float64{{scale1 * pc[0][0], scale1 * pc[0][1]}, {scale2 * pc[1][0], scale2 * pc[1][1]}}
		p.source += ", CDELT and PCi_j"
		if written := coords.Atan2(pc[1][0], pc[1][1]); haveTurn && (written-turn).Wrap180().Abs() > 0.1*coords.Degree {
			s.warn("CROTA %.2f° disagrees with PCi_j, %.2f°: PCi_j is used", turn.Degrees(), written.Degrees())
		}
	default:
		sin, cos := turn.Sincos()
		p.matrix = [2][2]float64{{scale1 * cos, -scale2 * sin}, {scale1 * sin, scale2 * cos}}
		p.source += ", CDELT and CROTA2"
		if !haveTurn {
			s.warn("neither CROTA2 nor PCi_j: by the standard solar north is up")
		}
	}
	for i := range p.matrix {
		for j := range p.matrix[i] {
			p.matrix[i][j] *= p.arcsec
		}
		p.value[i] *= p.arcsec
	}
	if p.value[0] > 180*3600 { // a longitude of 359.9 degrees
		p.value[0] -= 360 * 3600
	}
	p.hasScale = math.Abs(p.determinant()) > 1e-12
	if !p.hasScale {
		s.warn("CDELT is 0: no scale, and so no disc from the solar coordinates")
	}
}

func crota(h fits.Header) (coords.Angle, bool) {
	for _, key := range []string{"CROTA2", "CROTA", "CROTA1"} {
		if v, ok := h.Float(key); ok {
			return coords.Angle(v) * coords.Degree, true
		}
	}
	return 0, false
}

func (p plane) determinant() float64 {
	m := p.matrix
	return m[0][0]*m[1][1] - m[0][1]*m[1][0]
}

// pixel is the inverse of the matrix: a step on the sky as one in FITS pixels.
func (p plane) pixel(x, y float64) (i, j float64) {
	m, d := p.matrix, p.determinant()
	return (m[1][1]*x - m[0][1]*y) / d, (m[0][0]*y - m[1][0]*x) / d
}

// axes gives the largest and smallest arcsec per pixel over all directions, and
// the direction (i, j) of the largest: the singular values of the matrix.
func (p plane) axes() (largest, smallest, i, j float64) {
	m := p.matrix
	// MᵀM = [a b; b c]
	a := m[0][0]*m[0][0] + m[1][0]*m[1][0]
	b := m[0][0]*m[0][1] + m[1][0]*m[1][1]
	c := m[0][1]*m[0][1] + m[1][1]*m[1][1]
	half, mean := math.Hypot((a-c)/2, b), (a+c)/2
	turn := math.Atan2(2*b, a-c) / 2
	return math.Sqrt(mean + half), math.Sqrt(max(0, mean-half)), math.Cos(turn), math.Sin(turn)
}

// fromPlane makes disc, north and layer out of solar coordinates.
func (s *Solar) fromPlane(p plane, h fits.Header, f frame) {
	if !p.hasScale {
		return
	}
	largest, smallest, shortI, shortJ := p.axes()
	if !(smallest > 0) || largest > 1e6 {
		s.warn("the solar coordinates have a scale of %.3g to %.3g arcsec per pixel, which is none", smallest, largest)
		return
	}
	i, j := p.pixel(0, 1)
	north := &SolarNorth{Angle: coords.Atan2(-i, j), Mirrored: p.determinant() < 0, Sigma: sigmaNorth}
	s.ScaleArcsec = math.Sqrt(largest * smallest)
	di, dj := p.pixel(-p.value[0], -p.value[1])
	centre := f.shown(p.reference[0]+di, p.reference[1]+dj)
	if s.RadiusArcsec == 0 && limbOf(centre, 10) != nil { // somewhere near the picture
		s.Centre = &centre
	}
	if s.RadiusArcsec == 0 {
		s.warn("solar coordinates without the Sun's apparent radius (RSUN_OBS, DSUN_OBS)")
		s.North, s.Source = north, p.source
		return
	}
	limb := limbOf(centre, s.RadiusArcsec/smallest)
	if limb == nil || !s.fits(*limb, f) {
		s.warn("the disc of the solar coordinates (radius %.1f px at %.3g arcsec per pixel) isn't in this picture of %.0f x %.0f; was it cropped or shrunk?",
			s.RadiusArcsec/smallest, s.ScaleArcsec, f.width, f.height)
		return
	}
	if largest > smallest*1.0002 { // pixels that are not square
		limb.Flattening = 1 - smallest/largest
		limb.ShortAxis = coords.Atan2(-shortI, shortJ)
		right, down := limb.Unit(coords.Pixel{X: limb.Centre.X + i, Y: limb.Centre.Y - j})
		north.Angle = coords.Atan2(-right, -down)
	}
	s.Centre, s.Limb, s.North, s.Layer, s.Source = &centre, limb, north, layerOf(h), p.source
}

// fits warns of a disc whose centre is not in the picture, and refuses one that
// doesn't reach into it or is far too large for it.
func (s *Solar) fits(l coords.Limb, f frame) bool {
	if !f.touches(l) || l.RadiusPx > 20*max(f.width, f.height) {
		return false
	}
	if !f.contains(l.Centre) {
		s.warn("the header puts the disc's centre (%.1f, %.1f) outside the picture", l.Centre.X, l.Centre.Y)
	}
	return true
}

// layerOf is the height of the radius that the header counts with: RSUN_REF, or by
// default the 959.63" at 1 au of most headers, 696 000 km.
func layerOf(h fits.Header) *coords.Layer {
	const usualMm, spreadMm = 696.0, 0.3
	reference, ok := h.Float("RSUN_REF") // metres
	if ok = ok && reference > 690e6 && reference < 720e6; !ok {
		reference = usualMm * 1e6
	}
	return &coords.Layer{HeightMm: max(0, reference/1e6-coords.SolarRadiusMm), SigmaMm: spreadMm}
}

func (s *Solar) warn(format string, args ...any) {
	s.Warnings = append(s.Warnings, fmt.Sprintf(format, args...))
}
