package wcs

import (
	"math"
	"testing"

	"limbwatch/coords/picture/fits"
)

func FuzzRead(f *testing.F) {
	add := func(lines ...string) {
		var text []byte
		for _, c := range lines {
			card := make([]byte, 80)
			for i := range card {
				card[i] = ' '
			}
			copy(card, c)
			text = append(text, card...)
		}
		f.Add(text, 1024, 512)
	}
	add("CTYPE1  = 'HPLN-TAN'", "CTYPE2  = 'HPLT-TAN'", "CUNIT1  = 'arcsec'", "CRPIX1  = 512.5", "CRPIX2  = 200.5", "CDELT1  = 2.4", "CDELT2  = -2.5", "CROTA2  = 33", "RSUN_OBS= 960")
	add("CTYPE1  = 'SOLAR_X'", "CTYPE2  = 'SOLAR_Y'", "CRPIX1  = 0", "CRPIX2  = 0", "CD1_1   = 1", "CD2_2   = 1", "DSUN_OBS= 1.5E11", "R_SUN   = 9")
	add("CENTER_X= 511.5", "CENTER_Y= 255.5", "SOLAR_R = 420", "SOLAR_B0= 7.2", "CRLN_OBS= 359")
	f.Fuzz(func(t *testing.T, text []byte, width, height int) {
		if width < 1 || height < 1 || width > 1<<20 || height > 1<<20 {
			return
		}
		s := Read(fits.ParseCards(text), width, height)
		if s == nil {
			return
		}
		finite := []float64{s.ScaleArcsec, s.RadiusArcsec, s.Observer.DistanceAU}
		if l := s.Limb; l != nil {
			finite = append(finite, l.Centre.X, l.Centre.Y, l.RadiusPx, l.Flattening, l.ShortAxis.Radians(), l.Cov.RR)
			if l.RadiusPx <= 0 || l.Flattening < 0 || l.Flattening >= 1 {
				t.Fatalf("impossible limb %+v", *l)
			}
		}
		if s.North != nil {
			finite = append(finite, s.North.Angle.Radians(), s.North.Sigma.Radians())
		}
		for _, v := range finite {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%+v has a value that is not finite", *s)
			}
		}
	})
}
