package paint

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/testdata"
)

// geometryRows reads the table of points of the disc that another library
// computed (SunPy 4.1.2 with Astropy; its comment lines give the projection).
func geometryRows(t *testing.T) []map[string]float64 {
	var rows []map[string]float64
	for _, record := range testdata.Table(t, "../../testdata/published/geometry.csv") {
		row := map[string]float64{}
		for name := range record {
			if name != "utc" {
				row[name] = record.Number(t, name)
			}
		}
		rows = append(rows, row)
	}
	require.GreaterOrEqual(t, len(rows), 300)
	return rows
}

// TestProjectionAgainstTable: pixels of the table's places, by its own P, B0, L0 and
// semidiameter. Allowed: half the last printed digit of the places (5e-8°), which
// is 1e-6 of a radius of 900 px; and near the limb of r/R itself.
func TestProjectionAgainstTable(t *testing.T) {
	for i, row := range geometryRows(t) {
		face := coords.Face{
			P: degreesOf(row["P_deg"]), B0: degreesOf(row["B0_deg"]), L0: degreesOf(row["L0_deg"]),
			Semidiameter: coords.Angle(row["semidiameter_arcsec"]) * coords.Arcsecond,
		}
		c := Centred(2000, 2000, 900)
		c.North = coords.North{Angle: degreesOf(float64(i)), Mirrored: i%2 == 1}
		s := Scene{Face: face, Band: Flat(coords.Photosphere), Camera: c}
		at := coords.Heliographic{B: degreesOf(row["lat_deg"]), L: degreesOf(row["lon_carrington_deg"])}
		got, visible := s.Project(at, 0)
		assert.True(t, visible, "row %d", i)

		// Position angle counts counter-clockwise from north, clockwise when mirrored.
		turn := row["pa_celestial_deg"]
		if c.North.Mirrored {
			turn = -turn
		}
		sin, cos := degreesOf(float64(i) + turn).Sincos()
		r := row["r_over_R"] * 900
		assert.InDelta(t, c.Limb.Centre.X-r*sin, got.X, 2e-5, "row %d x px", i)
		assert.InDelta(t, c.Limb.Centre.Y-r*cos, got.Y, 2e-5, "row %d y px", i)

		v := newView(s)
		assert.InDelta(t, row["mu"], v.mu(at.Vector(), 1), 1e-7, "row %d mu", i)

		u, w := c.Limb.Unit(got)
		q, ok := v.unproject(u, w, 1)
		if !ok { // rounding may put a point of the very limb outside
			require.Greater(t, row["r_over_R"], 0.9999)
			continue
		}
		back := coords.HeliographicOf(apply(transpose(v.toSky), q))
		assert.InDelta(t, 0, back.Distance(at).Degrees(), 1e-6, "row %d there and back, degrees", i)
	}
}

// TestHeights: what stands high is seen farther out, and beyond the limb even when
// its foot is behind. A point h above a foot that lies a behind the limb's circle
// appears (R+h)·cos a − R high (TRADE's relation between seen and true height; own
// derivation from the right triangle at the Sun's centre).
func TestHeights(t *testing.T) {
	face := coords.Face{Semidiameter: 960 * coords.Arcsecond} // north up, disc centre at B 0 L 0
	s := Scene{Face: face, Band: Flat(coords.Photosphere), Camera: Centred(2000, 2000, 900)}
	limbCMD := 90 - face.Semidiameter.Degrees() // of the point where the line of sight touches
	for _, tc := range []struct{ behind, heightMm float64 }{{0, 10}, {5, 32.8}, {10, 41.2}, {15, 76.3}} {
		at := coords.Heliographic{L: degreesOf(limbCMD + tc.behind)}
		px, visible := s.Project(at, tc.heightMm)
		sin, cos := degreesOf(tc.behind).Sincos()
		seen := (695.7+tc.heightMm)*cos - 695.7
		require.True(t, visible, "top at %g Mm, foot %g behind", tc.heightMm, tc.behind)
		require.Greater(t, px.X, s.Camera.Limb.Centre.X, "west is right with north up, not mirrored")
		// Elevation of the line of sight above the tangent one, from similar triangles.
		distance := 695.7 / face.Semidiameter.Sin()
		far := distance*face.Semidiameter.Cos() + (695.7+tc.heightMm)*sin
		rho := face.Semidiameter.Radians() + math.Atan2(seen, far)
		assert.InDelta(t, rho/face.Semidiameter.Radians()*900, px.X-s.Camera.Limb.Centre.X, 1e-6)
	}
	_, visible := s.Project(coords.Heliographic{L: degreesOf(limbCMD - 0.01)}, 0)
	assert.True(t, visible, "foot just before the limb")
	_, visible = s.Project(coords.Heliographic{L: degreesOf(limbCMD + 0.01)}, 0)
	assert.False(t, visible, "foot just behind the limb")
	_, visible = s.Project(coords.Heliographic{L: degreesOf(limbCMD + 30)}, 60)
	assert.False(t, visible, "60 Mm, 30 degrees behind: (755.7 cos 30) is less than the radius")
}

func TestLimbRadiusOfLayers(t *testing.T) {
	for _, layer := range []coords.Layer{coords.Photosphere, coords.Chromosphere} {
		s := Scene{Face: someFace, Band: Flat(layer), Camera: Centred(1000, 1000, 400)}
		v := newView(s)
		// Any great circle through the disc's centre crosses the limb where the
		// line of sight touches: 90° less the limb's apparent radius from the centre.
		theta := math.Pi/2 - math.Asin((695.7+layer.HeightMm)/695.7*someFace.Semidiameter.Sin())
		px, r, _ := v.place([3]float64{math.Sin(theta), 0, math.Cos(theta)}, 1+layer.HeightMm/695.7)
		assert.InDelta(t, 1, r, 1e-12)
		assert.InDelta(t, 400, math.Hypot(px.X-499.5, px.Y-499.5), 1e-9)
	}
}
