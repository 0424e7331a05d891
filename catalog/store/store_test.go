package store

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
)

var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)

func at(origin catalog.Origin) Change { return Change{Title: "test", Origin: origin, At: noon} }

// byFigures is a deriver that needs no geometry: what matters here is when it is
// called and with what. Pixels count in degrees from the disc's centre, turned
// round by nothing but a shift of longitude with north, hour and latitude of the site.
func byFigures(b catalog.Bearings, marks []catalog.Mark) []catalog.Position {
	out := make([]catalog.Position, len(marks))
	for i, m := range marks {
		p := catalog.Position{Mark: m.ID, UTC: b.Frame.Middle(b.ClockCorrectionS)}
		lon := float64(p.UTC.Sub(noon)) / float64(time.Hour)
		if b.Site != nil {
			lon += b.Site.LatDeg
		}
		if m.Height != nil {
			lon += m.Height.HeightMm
		}
		switch {
		case len(m.Geometry.Places) > 0:
			here := m.Geometry.Places[0].On(0)
			here.L = (here.L + angle(lon)).Wrap360()
			p.Disc = &catalog.OnDisc{Measured: coords.Measured{Heliographic: here}}
		case b.Disc == nil || b.North == nil:
			p.Reason = "no disc or north"
		default:
			v := m.Geometry.Pixels[0]
			p.Disc = &catalog.OnDisc{Measured: coords.Measured{Heliographic: coords.Heliographic{
				B: angle(v.Y - b.Disc.Limb.Centre.Y),
				L: (angle(v.X-b.Disc.Limb.Centre.X+lon) + b.North.Angle).Wrap360(),
			}}}
		}
		out[i] = p
	}
	return out
}

func open(t testing.TB) *Store {
	t.Helper()
	return openAt(t, filepath.Join(t.TempDir(), "catalogue.db"))
}

func openAt(t testing.TB, path string) *Store {
	t.Helper()
	s, err := Open(context.Background(), path, byFigures)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return s
}

func update(t testing.TB, s *Store, fn func(*Tx) error) catalog.Operation {
	t.Helper()
	op, err := s.Update(context.Background(), at(catalog.Terminal), fn)
	require.NoError(t, err)
	return op
}

func frameAt(when time.Time) catalog.Frame { return catalog.Frame{Taken: when} }

func pixelMark(frame catalog.FrameID, x, y float64) catalog.Mark {
	return catalog.Mark{Frame: frame, Kind: catalog.Sunspot, MarkedAt: noon, Geometry: catalog.Geometry{
		Shape: catalog.Point, Pixels: []coords.Pixel{{X: x, Y: y}}, SigmaClickPx: 0.5}}
}

func placeMark(frame catalog.FrameID, latDeg, lonDeg float64) catalog.Mark {
	return catalog.Mark{Frame: frame, Kind: catalog.Sunspot, MarkedAt: noon, Geometry: catalog.Geometry{
		Shape: catalog.Point, Places: []catalog.PlacePoint{{B: angle(latDeg), Lon: angle(lonDeg)}}}}
}

func TestWhatIsKeptComesBackAsItWas(t *testing.T) {
	s := open(t)
	var site catalog.Site
	var mark catalog.Mark
	update(t, s, func(tx *Tx) (err error) {
		if site, err = tx.AddSite(catalog.Site{Name: "Yard", LatDeg: 51.5, LonDeg: -0.1, Zone: "Europe/London", Default: true}); err != nil {
			return err
		}
		frame, err := tx.AddFrame(frameAt(noon))
		if err != nil {
			return err
		}
		m := placeMark(frame.ID, 12.3, 45.6)
		m.Aliases, m.Label, m.Height = []string{"AR 4001", "x"}, "=evil", &coords.Layer{HeightMm: 26, SigmaMm: 4}
		mark, err = tx.AddMark(m)
		return err
	})
	v := s.Read(context.Background())
	gotSite, err := v.SiteNamed("Yard")
	require.NoError(t, err)
	assert.Equal(t, site, gotSite)
	gotMark, err := v.Mark(mark.ID)
	require.NoError(t, err)
	assert.Equal(t, mark, gotMark)
	assert.Equal(t, "M1", mark.ID.String())
	entries, err := v.Entries(Query{From: noon, To: noon.Add(time.Second), Label: "AR 4001"})
	require.NoError(t, err)
	require.Len(t, entries, 1)
	assert.Equal(t, mark, entries[0].Mark)
	assert.InDelta(t, 12.3, entries[0].Position.Disc.B.Degrees(), 1e-12)
}
