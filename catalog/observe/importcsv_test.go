package observe

import (
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"limbwatch/catalog"
)

// Whatever the file, a row is a mark that can be kept and has figures, or a bad row.
func FuzzPositionRows(f *testing.F) {
	f.Add("kind,utc,lat_deg,lon_deg,sigma_deg\nplage,2026-03-14T09:00:00Z,1,2,0.5\n")
	f.Add("kind;utc;pa_deg;height_mm\nprominence;2026-03-14T09:00:00Z;300;-1\n")
	f.Add("\uFEFFkind,utc,pa_deg,r,sigma_r,sigma_pa_deg\nfilament,1620-03-14 09:00,1,10,1,180\nother,2200-01-01T00:00Z,0,0,,\n")
	f.Add("kind,utc,lat_deg,cmd_deg\nsunspot,2026-03-14T09:00:00.999999999Z,-90,180\n\"\n")
	f.Fuzz(func(t *testing.T, file string) {
		rows, err := newPositionReader(strings.NewReader(file))
		if err != nil {
			return
		}
		for {
			m, _, err := rows.next()
			if err == io.EOF {
				return
			}
			if _, bad := errors.AsType[*BadRow](err); bad {
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			m.mark.Frame, m.mark.MarkedAt = 1, m.utc
			if err := m.mark.Validate(); err != nil {
				t.Fatalf("%+v: %v", m, err)
			}
			p := Derive(catalog.Bearings{Frame: catalog.Frame{Taken: m.utc}}, []catalog.Mark{m.mark})[0]
			for _, v := range figures(p) {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%+v lies at %+v", m, p)
				}
			}
		}
	})
}

// figures are all numbers of a position.
func figures(p catalog.Position) (f []float64) {
	if p.Polar != nil {
		f = append(f, float64(p.Polar.PA), p.Polar.R)
	}
	if d := p.Disc; d != nil {
		f = append(f, float64(d.B), float64(d.L), d.Cov.BB, d.Cov.LL, d.Cov.BL, float64(d.CMD), d.Mu)
	}
	if h := p.High; h != nil {
		f = append(f, float64(h.B), float64(h.L), h.Cov.BB, h.Cov.LL, h.Cov.BL, float64(h.CMD))
	}
	if e := p.Edge; e != nil {
		f = append(f, float64(e.PA), float64(e.SigmaPA), float64(e.From), float64(e.To), float64(e.TopPA),
			float64(e.Lat), float64(e.SigmaLat), float64(e.Lon), e.HeightArcsec, e.SigmaArcsec, e.HeightMm, e.SigmaMm)
	}
	return f
}
