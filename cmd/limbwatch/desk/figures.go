package desk

import (
	"fmt"
	"math"
	"net/http"
	"strconv"

	"limbwatch/catalog/field"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/figure"
)

// figures is what the page shows beside the pointer: the lines that people read,
// and the same as numbers for scripts, named as "limbwatch place --json" names them.
type figures struct {
	Lines   []string `json:"lines"`
	Ellipse []xy     `json:"ellipse,omitempty"` // one standard error, in picture pixels
	Ribbon  *spot    `json:"ribbon,omitempty"`  // the place on the ribbon, as parts of it

	AsProposed bool `json:"as_proposed,omitempty"` // by a disc or north that is not kept yet

	Where        string            `json:"where"`
	PADeg        *float64          `json:"pa_deg,omitempty"`
	R            float64           `json:"r"`
	LatDeg       *float64          `json:"lat_deg,omitempty"`
	CMDDeg       *float64          `json:"cmd_deg,omitempty"`
	LonDeg       *float64          `json:"lon_deg,omitempty"`
	SigmaLatDeg  *float64          `json:"sigma_lat_deg,omitempty"`
	SigmaLonDeg  *float64          `json:"sigma_lon_deg,omitempty"`
	HeightArcsec *float64          `json:"height_arcsec,omitempty"`
	HeightMm     *field.Megametres `json:"height_km,omitempty"`
}

func degrees(a coords.Angle) *float64 {
	d := a.Degrees()
	return &d
}

// usualClickPx is the error of a click where the page does not say, picture pixels.
const usualClickPx = 0.5

// getPlace answers GET /frames/{frame}/place?x=&y=[&sigma=]: the place of a pixel, by
// the disc and north that are kept, or by others that are tried.
func (s *Server) getPlace(w http.ResponseWriter, r *http.Request) error {
	v, err := s.viewed(r)
	if err != nil {
		return err
	}
	p, err := pixelOf(r)
	if err != nil {
		return err
	}
	another, err := triedIn(r, [3]string{"disc_x", "disc_y", "disc_r"})
	if err != nil {
		return err
	}
	v, changed, err := another.on(v)
	if err != nil {
		return err
	}
	sigma := usualClickPx
	if text := r.FormValue("sigma"); text != "" {
		if sigma, err = strconv.ParseFloat(text, 64); err != nil || !(sigma > 0 && sigma <= 1000) {
			return bad("sigma "+strconv.Quote(text), "give the error of the click in pixels, more than 0")
		}
	}
	answer(w, http.StatusOK, figuresOf(v, p, sigma).proposed(changed))
	return nil
}

func pixelOf(r *http.Request) (coords.Pixel, error) {
	var p coords.Pixel
	for i, into := range []*float64{&p.X, &p.Y} {
		name := []string{"x", "y"}[i]
		v, err := strconv.ParseFloat(r.FormValue(name), 64)
		if err != nil || math.IsNaN(v) || math.Abs(v) > 1e6 {
			return p, bad(fmt.Sprintf("%s %q is no pixel", name, r.FormValue(name)), "give x and y in pixels of the picture")
		}
		*into = v
	}
	return p, nil
}

// figuresOf reads a pixel off a view and words it.
func figuresOf(v viewed, p coords.Pixel, sigmaClickPx float64) figures {
	place := v.Place(p, sigmaClickPx, disc.Height{})
	f := figures{Where: place.Where.String(), R: place.R}
	rText := fmt.Sprintf("r %.*f", min(4, figure.Decimals(place.SigmaR, 4)), place.R)
	if !v.northKnown {
		f.Lines = []string{rText, "north is not known yet"}
		return f
	}
	f.PADeg = degrees(place.PositionAngle)
	pa := fmt.Sprintf("PA %s°", turnText(place.PositionAngle, min(2, figure.Decimals(place.SigmaPositionAngle.Degrees(), 4))))
	switch place.Where {
	case disc.OnDisc:
		f.onDisc(v, place)
		f.Lines = append(f.Lines, pa+"  "+rText)
		if place.NearLimb() {
			f.Lines = append(f.Lines, "at the limb: errors are a guide")
		}
	case disc.BetweenLimbs:
		f.Lines = []string{"between the limbs", pa + "  " + rText}
		f.beyond(place)
	case disc.BeyondLimb:
		b := place.Beyond
		f.beyond(place)
		f.Lines = []string{
			fmt.Sprintf("%s  %.*f%s", pa, figure.Decimals(b.SigmaAboveMm, 4), b.AboveSunMm, plusMinus(b.SigmaAboveMm, " Mm")),
			fmt.Sprintf("%.1f″ above the limb, %.2f Earths", b.HeightArcsec, b.AboveSunMm/disc.EarthDiameterMm),
			fmt.Sprintf("limb at %s  L %s°", latText(b.Limb.B, 1), turnText(b.Limb.L, 1)),
		}
		if b.SigmaAboveMm <= 0 {
			f.Lines[0] = fmt.Sprintf("%s  %.3f Mm", pa, b.AboveSunMm)
		}
	default:
		f.Lines = []string{"no place"}
	}
	return f
}

// proposed marks figures that hold for a disc or north that is not kept yet.
func (f figures) proposed(so bool) figures {
	if so {
		f.AsProposed, f.Lines = true, append(f.Lines, "as proposed")
	}
	return f
}

func (f *figures) onDisc(v viewed, place disc.Place) {
	reading := place.Photosphere
	sigmaB, sigmaL := reading.Cov.SigmaB().Degrees(), reading.Cov.SigmaL().Degrees()
	f.LatDeg, f.CMDDeg, f.LonDeg = degrees(reading.B), degrees(reading.CMD), degrees(reading.L)
	if sigmaB > 0 {
		f.SigmaLatDeg, f.SigmaLonDeg = &sigmaB, &sigmaL
	}
	f.Lines = []string{
		latText(reading.B, figure.Decimals(sigmaB, 4)) + "°  " + cmdText(reading.CMD, figure.Decimals(sigmaL, 4)) + "°",
		"L " + turnText(reading.L, figure.Decimals(sigmaL, 4)) + "°" + plusMinus(sigmaL, "°"),
		"B" + plusMinus(sigmaB, "°"),
	}
	if sigmaB <= 0 {
		f.Lines = f.Lines[:2]
	}
	if !place.NearLimb() {
		f.Ellipse = ellipse(v.View, reading.Measured)
	}
	on := onRibbon(v.Face, reading.Heliographic)
	f.Ribbon = &on
}

func (f *figures) beyond(place disc.Place) {
	b := place.Beyond
	above := field.Megametres(b.AboveSunMm)
	f.HeightArcsec, f.HeightMm = &b.HeightArcsec, &above
}

// ellipse is the outline of one standard error of a measured place, in pixels.
func ellipse(v disc.View, m coords.Measured) []xy {
	// A point of the ellipse is the place plus L·(cos t, sin t), L the Cholesky
	// factor of the covariance.
	c := m.Cov
	if c.BB <= 0 || c.LL <= 0 {
		return nil
	}
	l11 := math.Sqrt(c.BB)
	l21 := c.BL / l11
	l22 := math.Sqrt(max(0, c.LL-l21*l21))
	const steps = 32
	out := make([]xy, 0, steps)
	for i := range steps {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / steps)
		p, seen := v.Project(coords.Heliographic{
			B: m.B + coords.Angle(l11*cos),
			L: (m.L + coords.Angle(l21*cos+l22*sin)).Wrap360(),
		}, 0)
		if !seen {
			return nil
		}
		out = append(out, point(p))
	}
	return out
}
