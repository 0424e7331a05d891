package paint

import (
	"bytes"
	"fmt"
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
)

// someFace is an invented instant.
var someFace = coords.Face{
	P: 12.3 * coords.Degree, B0: 5.4 * coords.Degree, L0: 213.7 * coords.Degree,
	Semidiameter: 955.5 * coords.Arcsecond, DistanceAU: 1.0039,
}

// TestEdgeOfFlatDisc: on an evenly bright disc the point of half brightness is the
// limb, but for the shift −σ²/2R that curvature gives (a straight edge has none;
// the blurred indicator of a disc, expanded in σ/R).
func TestEdgeOfFlatDisc(t *testing.T) {
	for _, blur := range []float64{0, 0.8, 1.5, 4, 10} {
		for _, radius := range []float64{300.3, 900.17} {
			c := Camera{Width: 1000, Height: 1000, BlurPx: blur, Exposure: 0.8,
				Limb: coords.Limb{Centre: coords.Pixel{X: 20.3, Y: 30.6}, RadiusPx: radius}}
			f, err := Paint(Scene{Face: someFace, Band: Flat(coords.Chromosphere), Camera: c})
			require.NoError(t, err)
			sum, n := 0.0, 0
			for deg := 5.0; deg < 85; deg += 0.25 {
				sin, cos := math.Sincos(deg * math.Pi / 180)
				r := crossing(f, c.Limb.Centre, cos, sin, radius, 0.4*White)
				sum += r - radius
				n++
			}
			want := -(blur*blur + 1.0/12) / (2 * radius)
			assert.InDelta(t, want, sum/float64(n), 0.01, "blur %g R %g: half-brightness minus limb, px", blur, radius)
			assert.InDelta(t, radius, f.Truth.InflectionPx, 0.02+blur*blur/radius, "blur %g R %g: steepest point", blur, radius)
		}
	}
}

// crossing walks outward and gives the distance at which the grey level falls
// through the given one.
func crossing(f *Frame, centre coords.Pixel, right, down, radius, level float64) float64 {
	const step = 0.1
	last := 0.0
	for r := radius - 20; r < radius+20; r += step {
		g := bilinear(f, centre.X+r*right, centre.Y+r*down)
		if g < level && r > radius-20 {
			return r - step*(level-g)/(last-g)
		}
		last = g
	}
	return math.NaN()
}

func bilinear(f *Frame, x, y float64) float64 {
	i, j := int(x), int(y)
	fx, fy := x-float64(i), y-float64(j)
	at := func(i, j int) float64 { return float64(f.Grey[j*f.Width+i]) }
	return (at(i, j)*(1-fx)+at(i+1, j)*fx)*(1-fy) + (at(i, j+1)*(1-fx)+at(i+1, j+1)*fx)*fy
}

func TestSameSceneSamePicture(t *testing.T) {
	s := Scene{Face: someFace, Band: DoubleStack(), Camera: Centred(300, 300, 120), Seed: 5}
	s.Sun.Mottling = Mottling{Strength: 0.05, Seed: 3}
	s.Sun.Spots = []Spot{{At: coords.Heliographic{B: 0.1, L: someFace.L0}, UmbraMm: 8, PenumbraMm: 18}}
	a, err := Paint(s)
	require.NoError(t, err)
	b, err := Paint(s)
	require.NoError(t, err)
	assert.Equal(t, a.Grey, b.Grey)
	s.Seed++
	other, err := Paint(s)
	require.NoError(t, err)
	assert.NotEqual(t, a.Grey, other.Grey, "another seed has other noise")
}

// TestSpotIsWhereItIs paints one round spot, far enough from the limb that
// foreshortening is even across it, and finds its centroid.
func TestSpotIsWhereItIs(t *testing.T) {
	for _, mirrored := range []bool{false, true} {
		for k := range 12 {
			if testing.Short() && k%4 != 0 {
				continue
			}
			at := coords.Heliographic{
				B: degreesOf(-35 + 6.3*float64(k)),
				L: (someFace.L0 + degreesOf(float64(k*29%80)-40)).Wrap360(),
			}
			c := Centred(1000, 1000, 450.4)
			c.North = coords.North{Angle: degreesOf(float64(31 * k)), Mirrored: mirrored}
			c.ReadNoise, c.ShotNoise = 0, 0
			s := Scene{Face: someFace, Band: Flat(coords.Chromosphere), Camera: c}
			s.Sun.Spots = []Spot{{At: at, UmbraMm: 6, PenumbraMm: 10}}
			f, err := Paint(s)
			require.NoError(t, err)
			want, visible := s.Project(at, 0)
			require.True(t, visible)
			assert.InDelta(t, want.X, f.Truth.Marks[0].Pixel.X, 1e-9)
			assert.InDelta(t, want.Y, f.Truth.Marks[0].Pixel.Y, 1e-9)
			var sum, sx, sy float64
			for y := int(want.Y) - 30; y <= int(want.Y)+30; y++ {
				for x := int(want.X) - 30; x <= int(want.X)+30; x++ {
					dark := 0.7*1.01*White - float64(f.Grey[y*f.Width+x])
					sum += dark
					sx += dark * float64(x)
					sy += dark * float64(y)
				}
			}
			assert.InDelta(t, want.X, sx/sum, 0.1, "x of spot %d, px", k)
			assert.InDelta(t, want.Y, sy/sum, 0.1, "y of spot %d, px", k)
		}
	}
}

func TestPNGKeepsTheLevels(t *testing.T) {
	for _, bits := range []int{8, 16} {
		c := Centred(120, 100, 40)
		c.Bits = bits
		f, err := Paint(Scene{Face: someFace, Band: SingleStack(), Camera: c})
		require.NoError(t, err)
		var file bytes.Buffer
		require.NoError(t, f.WritePNG(&file))
		m, _, err := image.Decode(&file)
		require.NoError(t, err)
		for i, g := range f.Grey {
			r, _, _, _ := m.At(i%f.Width, i/f.Width).RGBA()
			require.Equal(t, uint32(g), r, fmt.Sprintf("%d bits, pixel %d", bits, i))
		}
	}
}

func TestMeaninglessScenesAreRefused(t *testing.T) {
	good := Scene{Face: someFace, Band: SingleStack(), Camera: Centred(100, 100, 40)}
	for name, spoil := range map[string]func(*Scene){
		"no picture":        func(s *Scene) { s.Camera.Width = 0 },
		"no disc":           func(s *Scene) { s.Camera.Limb.RadiusPx = math.NaN() },
		"no semidiameter":   func(s *Scene) { s.Face.Semidiameter = 0 },
		"blur like a disc":  func(s *Scene) { s.Camera.BlurPx = 30 },
		"limb below 0":      func(s *Scene) { s.Band.Layer.HeightMm = -1 },
		"12 bits":           func(s *Scene) { s.Camera.Bits = 12 },
		"flat as a line":    func(s *Scene) { s.Camera.Limb.Flattening = 1 },
		"spine of a point":  func(s *Scene) { s.Sun.Filaments = []Filament{{Spine: make([]coords.Heliographic, 1)}} },
		"picture too large": func(s *Scene) { s.Camera.Width, s.Camera.Height = 1<<20, 1<<20 },
	} {
		s := good
		spoil(&s)
		_, err := Paint(s)
		assert.Error(t, err, name)
		_, err = s.Truth()
		assert.Error(t, err, name)
	}
}

func BenchmarkPlainDisc(b *testing.B) {
	s := Scene{Face: someFace, Band: SingleStack(), Camera: Centred(2000, 2000, 900)}
	for b.Loop() {
		if _, err := Paint(s); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkMottledDisc(b *testing.B) {
	s := Scene{Face: someFace, Band: SingleStack(), Camera: Centred(2000, 2000, 900)}
	s.Sun.Mottling.Strength = 0.05
	sphereTextures[0]()
	for b.Loop() {
		if _, err := Paint(s); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkDay is a day of the demo: everything there is, at a usual size.
func BenchmarkDay(b *testing.B) {
	p := Generate(8, someStart, 16, someLaws)
	s := dayScene(p, 5, Centred(1000, 1000, 430))
	sphereTextures[0]()
	for b.Loop() {
		if _, err := Paint(s); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkHardDisc has most of what can go wrong.
func BenchmarkHardDisc(b *testing.B) {
	s := Scene{Face: someFace, Band: SingleStack(), Camera: Centred(2000, 2000, 900), Sun: lookSun()}
	s.Camera.Cloud = Cloud{Depth: 0.4, Veil: 0.05}
	s.Camera.Halo = Halo{Level: 0.1}
	s.Camera.Vignetting = 0.4
	s.Camera.Gradient = Gradient{Slope: 0.3, Sweet: 0.4, Band: 0.1}
	s.Camera.Sharpen = Sharpen{Amount: 2}
	sphereTextures[0]()
	for b.Loop() {
		if _, err := Paint(s); err != nil {
			b.Fatal(err)
		}
	}
}
