package main

import (
	"encoding/json"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog/wholefile"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
)

// paintPNG paints a scene into a file of the test's folder.
func paintPNG(t *testing.T, name string, scene paint.Scene) (path string, frame *paint.Frame) {
	t.Helper()
	frame, err := paint.Paint(scene)
	require.NoError(t, err)
	path = filepath.Join(t.TempDir(), name)
	require.NoError(t, wholefile.Write(path, false, frame.WritePNG))
	return path, frame
}

func TestDiscFindAgreesWithThePainter(t *testing.T) {
	camera := paint.Centred(700, 640, 250)
	camera.Limb.Centre = coords.Pixel{X: 341.3, Y: 322.8}
	at := time.Date(2026, 3, 14, 15, 23, 10, 0, time.UTC)
	path, frame := paintPNG(t, "sun.png", paint.Scene{Camera: camera, Band: paint.WhiteLight(), Face: ephemeris.At(at), Seed: 7})
	got := limbwatch(t, "", "disc", "find", "--json", path)
	require.Equal(t, 0, got.code, got.stderr)
	var found foundDisc
	require.NoError(t, json.Unmarshal([]byte(got.stdout), &found))
	assert.Equal(t, "accepted", found.Verdict)
	assert.InDelta(t, frame.Truth.Limb.Centre.X, *found.CentreXPx, 0.2, "px, x of the centre")
	assert.InDelta(t, frame.Truth.Limb.Centre.Y, *found.CentreYPx, 0.2, "px, y of the centre")
	assert.InDelta(t, frame.Truth.Limb.RadiusPx, *found.RadiusPx, 0.3, "px, radius")
	assert.Positive(t, *found.SigmaRadiusPx, "an error is never nothing")

	people := limbwatch(t, "", "disc", "find", path)
	require.Equal(t, 0, people.code)
	assert.Contains(t, people.stdout, "±")
}

func TestDiscFindRefusesWithAReason(t *testing.T) {
	path := filepath.Join(t.TempDir(), "grey.png")
	grey := image.NewGray(image.Rect(0, 0, 300, 300))
	for i := range grey.Pix {
		grey.Pix[i] = uint8(90 + (i*7919)%13)
	}
	grey.Set(5, 5, color.White)
	file, err := os.Create(path)
	require.NoError(t, err)
	require.NoError(t, png.Encode(file, grey))
	require.NoError(t, file.Close())

	got := limbwatch(t, "", "disc", "find", "--json", path)
	assert.Equal(t, 1, got.code)
	var found foundDisc
	require.NoError(t, json.Unmarshal([]byte(got.stdout), &found))
	assert.Equal(t, "refused", found.Verdict)
	assert.NotEmpty(t, found.Reason)
	assert.Nil(t, found.RadiusPx, "no figure stands beside a refusal")

	got = limbwatch(t, "", "disc", "find", path)
	assert.Equal(t, 1, got.code)
	assert.Contains(t, got.stderr, "grey.png: disc refused")
	assert.Contains(t, got.stderr, "hint: ")
}

func TestDiscFindNamesWhatItCannotRead(t *testing.T) {
	text := filepath.Join(t.TempDir(), "notes.png")
	require.NoError(t, os.WriteFile(text, []byte("no picture at all"), 0o600))
	for _, c := range []struct {
		name string
		args []string
		code int
		says string
	}{
		{"no file named", nil, 2, "want PICTURE, got nothing"},
		{"no such file", []string{"gone.png"}, 1, "gone.png"},
		{"not a picture", []string{text}, 1, "notes.png"},
		{"unknown channel", []string{"--channel", "ultraviolet", text}, 2, "ultraviolet"},
		{"both shapes", []string{"--circle", "--ellipse", text}, 2, "--circle and --ellipse at once"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := limbwatch(t, "", append([]string{"disc", "find"}, c.args...)...)
			assert.Equal(t, c.code, got.code, got.stderr)
			assert.Contains(t, got.stderr, c.says)
		})
	}
}

// A disc within brighter light that ends at a stop: nothing in the picture tells which of
// the two round edges is the Sun's. Both are listed, and one is taken by its number.
func TestOneOfTwoCirclesIsTakenByItsNumber(t *testing.T) {
	folder := newCatalogue(t)
	path := filepath.Join(folder, "2026-03-14T090000Z.png")
	r := rand.New(rand.NewPCG(3, 14))
	grey := image.NewGray(image.Rect(0, 0, 400, 400))
	for i := range grey.Pix {
		d := math.Hypot(float64(i%400)-200, float64(i/400)-190)
		within, open := max(0, min(1, 150-d+0.5)), max(0, min(1, 170-d+0.5))
		grey.Pix[i] = uint8(12 + open*(within*(90+60*math.Sqrt(max(0, 1-d*d/22500)))+(1-within)*130) + r.NormFloat64())
	}
	file, err := os.Create(path)
	require.NoError(t, err)
	require.NoError(t, png.Encode(file, grey))
	require.NoError(t, file.Close())

	got := limbwatch(t, "", "disc", "find", path)
	assert.Equal(t, 1, got.code)
	assert.Regexp(t, `circle 1 .*radius 150`, got.stdout)
	assert.Regexp(t, `circle 2 .*radius 1(69|70)`, got.stdout)
	assert.Contains(t, got.stderr, "several round edges")
	assert.Contains(t, got.stderr, "--circle 1")

	got = limbwatch(t, "", "disc", "find", "--json", path)
	var found foundDisc
	require.NoError(t, json.Unmarshal([]byte(got.stdout), &found))
	require.Len(t, found.Circles, 2)
	assert.InDelta(t, 150, found.Circles[0].RadiusPx, 1, "px, the smaller one first")
	assert.InDelta(t, 1, *found.Circles[0].Odds+*found.Circles[1].Odds, 0.01)

	got = limbwatch(t, "", "frame", "add", path)
	require.Equal(t, 0, got.code, got.stderr)
	assert.Contains(t, got.stdout, "several round edges")
	assert.Regexp(t, `circle 2, radius 1(69|70).*: limbwatch disc set F1 --circle 2\n`, got.stdout)
	got = limbwatch(t, "", "disc", "fit", "F1")
	assert.Equal(t, 1, got.code)
	assert.Contains(t, got.stderr, "disc set F1 --circle 1")
	got = limbwatch(t, "", "disc", "set", "F1", "--circle", "3")
	assert.Equal(t, 1, got.code)
	assert.Contains(t, got.stderr, "shows 2 round edges")
	got = limbwatch(t, "", "disc", "set", "F1", "--circle", "first")
	assert.Equal(t, 2, got.code)
	got = limbwatch(t, "", "disc", "set", "F1", "--circle", "1", "--json")
	require.Equal(t, 0, got.code, got.stderr)
	var row struct {
		Disc struct {
			RadiusPx float64 `json:"radius_px"`
			Accepted bool    `json:"accepted"`
		} `json:"disc"`
	}
	require.NoError(t, json.Unmarshal([]byte(got.stdout), &row))
	assert.True(t, row.Disc.Accepted, "the observer chose it")
	assert.InDelta(t, 150, row.Disc.RadiusPx, 1)
}
