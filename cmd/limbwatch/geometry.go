package main

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/coords"
)

// geometryFlags are the figures of a mark: pixels, position angle and radius, or a
// place on the Sun.
type geometryFlags struct {
	point, line, outline string
	pa, r                string
	place                string
	lat, carrington, cmd string
	limb                 string
	sigmaClickPx         float64
	sigmaR, sigmaPA      float64
	sigmaDeg             float64
}

func (g *geometryFlags) addFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&g.point, "point", "", "a point of the picture, as `X,Y`")
	f.StringVar(&g.line, "line", "", "a line along its spine, as `\"X,Y X,Y ...\"`")
	f.StringVar(&g.outline, "outline", "", "an outline, as `\"X,Y X,Y X,Y ...\"`, not closed")
	f.Float64Var(&g.sigmaClickPx, "sigma-click-px", 0.5, "standard error of a point along each axis, in `pixels`")
	f.StringVar(&g.pa, "pa", "", "position angle from celestial north through east, in `degrees`; with commas between, those of a line")
	f.StringVar(&g.r, "r", "", "distance from the disc's centre in `radii` of the limb; as many as position angles")
	f.StringVar(&g.limb, "limb", "photosphere", "the limb in whose radii r counts: photosphere, chromosphere or its height in `Mm`")
	f.Float64Var(&g.sigmaR, "sigma-r", 0, "standard error of r, in `radii`")
	f.Float64Var(&g.sigmaPA, "sigma-pa-deg", 0, "standard error of the position angle, in `degrees`")
	f.StringVar(&g.place, "place", "", "latitude and distance from the meridian as the trade writes them, `N08E14`")
	f.StringVar(&g.lat, "lat", "", "latitude in `degrees`, north positive, or N08.5")
	f.StringVar(&g.carrington, "carrington", "", "with --lat: Carrington longitude in `degrees`")
	f.StringVar(&g.cmd, "cmd", "", "with --lat: distance from the central meridian in `degrees`, west positive, or E14")
	f.Float64Var(&g.sigmaDeg, "sigma-deg", 0, "standard error of a place along each direction, in `degrees`")
	cmd.MarkFlagsMutuallyExclusive("point", "line", "outline", "pa", "place", "lat")
	cmd.MarkFlagsRequiredTogether("pa", "r")
	cmd.MarkFlagsMutuallyExclusive("carrington", "cmd")
}

// flagValue is a figure that was typed, with the flag's name.
type flagValue struct {
	name  string
	value float64
}

// apply puts the figures into a geometry; when none were typed it stays.
func (g *geometryFlags) apply(set func(string) bool, to *catalog.Geometry) error {
	for _, f := range []flagValue{{"sigma-click-px", g.sigmaClickPx}, {"sigma-r", g.sigmaR}, {"sigma-pa-deg", g.sigmaPA}, {"sigma-deg", g.sigmaDeg}} {
		if !(f.value >= 0) || math.IsInf(f.value, 0) || (f.name == "sigma-click-px" && f.value == 0) {
			return misuse("--%s %v: an error is more than 0", f.name, f.value)
		}
	}
	if (set("carrington") || set("cmd")) != set("lat") {
		return misuse("--lat goes with --carrington or --cmd")
	}
	if err := g.fits(set, to); err != nil {
		return err
	}
	was := *to
	if err := g.applyFigures(set, to); err != nil {
		return err
	}
	if to.Form() == was.Form() { // errors that were not typed stay
		to.SigmaClickPx, to.SigmaR, to.SigmaPA, to.SigmaPlace = was.SigmaClickPx, was.SigmaR, was.SigmaPA, was.SigmaPlace
		g.applyErrors(set, to)
	}
	return nil
}

// applyFigures puts what was typed in place of what was there.
func (g *geometryFlags) applyFigures(set func(string) bool, to *catalog.Geometry) error {
	for _, drawn := range []struct {
		flag, text string
		shape      catalog.Shape
	}{{"point", g.point, catalog.Point}, {"line", g.line, catalog.Line}, {"outline", g.outline, catalog.Outline}} {
		if set(drawn.flag) {
			points, err := parsePoints(strings.Fields(drawn.text))
			if err != nil {
				return err
			}
			*to = catalog.Geometry{Shape: drawn.shape, Pixels: points, SigmaClickPx: g.sigmaClickPx}
			return nil
		}
	}
	switch {
	case set("pa"):
		return g.applyPolar(set, to)
	case set("place"), set("lat"):
		return g.applyPlace(set, to)
	}
	return nil
}

// fits refuses errors and radii of one way of marking beside the figures of another.
func (g *geometryFlags) fits(set func(string) bool, was *catalog.Geometry) error {
	form := was.Form() // that stays when no figures are typed
	switch {
	case set("point"), set("line"), set("outline"):
		form = catalog.FormPixels
	case set("pa"):
		form = catalog.FormPolar
	case set("place"), set("lat"):
		form = catalog.FormPlaces
	}
	for _, f := range []struct {
		form  catalog.Form
		what  string
		flags []string
	}{
		{catalog.FormPixels, "a mark in pixels", []string{"sigma-click-px"}},
		{catalog.FormPolar, "a mark by position angle", []string{"sigma-r", "sigma-pa-deg", "limb"}},
		{catalog.FormPlaces, "a mark by its place", []string{"sigma-deg"}},
	} {
		for _, flag := range f.flags {
			if set(flag) && form != f.form {
				return misuse("--%s goes with %s", flag, f.what)
			}
		}
	}
	if set("limb") && !set("pa") {
		return misuse("--limb goes with --pa and --r: it says what r counts in")
	}
	return nil
}

// applyErrors changes the errors alone of figures that stay.
func (g *geometryFlags) applyErrors(set func(string) bool, to *catalog.Geometry) {
	if set("sigma-click-px") {
		to.SigmaClickPx = g.sigmaClickPx
	}
	if set("sigma-r") {
		to.SigmaR = g.sigmaR
	}
	if set("sigma-pa-deg") {
		to.SigmaPA = coords.Angle(g.sigmaPA) * coords.Degree
	}
	if set("sigma-deg") {
		to.SigmaPlace = coords.Angle(g.sigmaDeg) * coords.Degree
	}
}

func (g *geometryFlags) applyPolar(set func(string) bool, to *catalog.Geometry) error {
	angles, err := parseNumbers(g.pa)
	if err != nil {
		return misuse("--pa %q: %v", g.pa, err)
	}
	radii, err := parseNumbers(g.r)
	if err != nil {
		return misuse("--r %q: %v", g.r, err)
	}
	if len(angles) != len(radii) {
		return misuse("%d position angles and %d radii: want as many", len(angles), len(radii))
	}
	layer, err := parseLimb(g.limb)
	if err != nil {
		return err
	}
	if !set("limb") && to.Form() == catalog.FormPolar {
		layer = to.PolarLimb // what its radii counted in before
	}
	*to = catalog.Geometry{Shape: catalog.Point, PolarLimb: layer, SigmaR: g.sigmaR, SigmaPA: coords.Angle(g.sigmaPA) * coords.Degree}
	if len(angles) > 1 {
		to.Shape = catalog.Line
	}
	for i := range angles {
		to.Polar = append(to.Polar, catalog.PolarPoint{PA: coords.Angle(angles[i]) * coords.Degree, R: radii[i]})
	}
	return nil
}

func (g *geometryFlags) applyPlace(set func(string) bool, to *catalog.Geometry) error {
	var place catalog.PlacePoint
	switch {
	case set("place"):
		lat, cmd, err := parseTradePlace(g.place)
		if err != nil {
			return err
		}
		place = catalog.PlacePoint{B: lat, Lon: cmd, ByCMD: true}
	default:
		lat, err := parseTradeAngle("lat", g.lat, "N", "S")
		if err != nil {
			return err
		}
		place.B = lat
		if set("cmd") {
			place.ByCMD = true
			if place.Lon, err = parseTradeAngle("cmd", g.cmd, "W", "E"); err != nil {
				return err
			}
		} else {
			deg, err := parseFinite(g.carrington)
			if err != nil || deg < 0 || deg > 360 {
				return misuse("--carrington %q: want 0 to 360 degrees", g.carrington)
			}
			place.Lon = coords.Angle(deg) * coords.Degree
		}
	}
	*to = catalog.Geometry{Shape: catalog.Point, Places: []catalog.PlacePoint{place}, SigmaPlace: coords.Angle(g.sigmaDeg) * coords.Degree}
	return nil
}

// minusSigns are what pasted logs have for a minus.
var minusSigns = strings.NewReplacer("−", "-", "–", "-", "°", "", ",", ".")

var tradePlace = regexp.MustCompile(`^([NnSs])\s*(\d{1,2}(?:\.\d+)?)\s*([EeWw])\s*(\d{1,3}(?:\.\d+)?)$`)

// parseTradePlace reads a place as the trade writes it: N08E14, S22.5W40.
func parseTradePlace(text string) (lat, cmd coords.Angle, err error) {
	m := tradePlace.FindStringSubmatch(strings.TrimSpace(minusSigns.Replace(text)))
	if m == nil {
		return 0, 0, misuse("place %q: want latitude and distance from the meridian, as in N08E14", text)
	}
	if lat, err = parseTradeAngle("place", m[1]+m[2], "N", "S"); err != nil {
		return 0, 0, err
	}
	if cmd, err = parseTradeAngle("place", m[3]+m[4], "W", "E"); err != nil {
		return 0, 0, err
	}
	if lat.Abs() > 90*coords.Degree || cmd.Abs() > 180*coords.Degree {
		return 0, 0, misuse("place %q: latitude %g, distance from the meridian %g: want up to 90 and up to 180 degrees", text, lat.Degrees(), cmd.Degrees())
	}
	return lat, cmd, nil
}

// parseTradeAngle reads an angle with a sign or a letter, plus for the first.
func parseTradeAngle(flag, text, plus, minus string) (coords.Angle, error) {
	body, sign := strings.ToUpper(strings.TrimSpace(minusSigns.Replace(text))), 1.0
	switch {
	case strings.HasPrefix(body, plus):
		body = body[1:]
	case strings.HasPrefix(body, minus):
		body, sign = body[1:], -1
	}
	deg, err := strconv.ParseFloat(body, 64)
	if err != nil || math.IsNaN(deg) || math.IsInf(deg, 0) {
		return 0, misuse("--%s %q: want degrees, as in 8.5 or %s08.5", flag, text, plus)
	}
	return coords.Angle(sign*deg) * coords.Degree, nil
}

// parseMarkHeight reads "MM" or "MM,SIGMA"; a height without its error is taken as
// known to a tenth, and to 1 Mm at best (common practice, no source).
func parseMarkHeight(text string) (*coords.Layer, error) {
	h, err := parseHeight(text)
	if err != nil {
		return nil, err
	}
	layer := coords.Layer{HeightMm: h.Mm, SigmaMm: h.SigmaMm}
	if !strings.Contains(text, ",") {
		layer.SigmaMm = observe.UsualHeightSigmaMm(h.Mm)
	}
	return &layer, nil
}
