package main

import (
	"bytes"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
)

// paintedAt is when the tests' pictures are taken, unless they say otherwise.
var paintedAt = time.Date(2026, 3, 14, 15, 23, 10, 0, time.UTC)

// paintedNorth is where celestial north points in them.
const paintedNorth = 12.4 * coords.Degree

func at(b, cmd float64, t time.Time) coords.Heliographic {
	return coords.Heliographic{B: coords.Angle(b) * coords.Degree, L: (ephemeris.At(t).L0 + coords.Angle(cmd)*coords.Degree).Wrap360()}
}

// paintedSun has one of each: two spots, a plage, a filament and a prominence at
// the east limb, all of known places.
func paintedSun(t time.Time) paint.Sun {
	var spine []coords.Heliographic
	for i := range 5 {
		spine = append(spine, at(28+1.5*float64(i), -38+5*float64(i), t))
	}
	return paint.Sun{
		Spots: []paint.Spot{
			{Label: "north", At: at(12, -25, t), UmbraMm: 8, PenumbraMm: 18},
			{Label: "south", At: at(-18, 38, t), UmbraMm: 8, PenumbraMm: 18},
		},
		Plages:      []paint.Plage{{Label: "bright", At: at(9, 14, t), LengthMm: 110, WidthMm: 60, Brightness: 0.5}},
		Filaments:   []paint.Filament{{Label: "dark", Spine: spine, HeightMm: 30, BaseMm: 2, WidthMm: 9, Depth: 2}},
		Prominences: []paint.Prominence{{Label: "edge", At: at(22, -90, t), AlongDeg: 90, LengthMm: 60, HeightMm: 50, WidthMm: 20}},
	}
}

// paintedScene is an ordinary picture: whole disc, slight blur and noise, north
// turned, single stack.
func paintedScene(t time.Time) paint.Scene {
	camera := paint.Centred(560, 520, 205)
	camera.North = coords.North{Angle: paintedNorth}
	camera.Limb.Centre = coords.Pixel{X: 283.3, Y: 255.8}
	return paint.Scene{Sun: paintedSun(t), Face: ephemeris.At(t), Band: paint.SingleStack(), Camera: camera, Seed: 7}
}

// pictures keeps what was painted, since several tests look at the same.
var pictures struct {
	sync.Mutex
	painted map[string]picturePainted
}

type picturePainted struct {
	png   []byte
	truth paint.Truth
}

// painted puts a painted picture into a folder under a name, and gives its path and
// what the painter knows. Scenes are told apart by what they are called.
func painted(t *testing.T, folder, name, called string, scene paint.Scene) (path string, truth paint.Truth) {
	t.Helper()
	pictures.Lock()
	defer pictures.Unlock()
	kept, ok := pictures.painted[called]
	if !ok {
		frame, err := paint.Paint(scene)
		require.NoError(t, err)
		var png bytes.Buffer
		require.NoError(t, frame.WritePNG(&png))
		kept = picturePainted{png.Bytes(), frame.Truth}
		if pictures.painted == nil {
			pictures.painted = map[string]picturePainted{}
		}
		pictures.painted[called] = kept
	}
	path = filepath.Join(folder, name)
	require.NoError(t, os.WriteFile(path, kept.png, 0o644))
	return path, kept.truth
}

// ordinary puts the ordinary picture of paintedAt into a folder, under a name that
// says when it was taken.
func ordinary(t *testing.T, folder string) (path string, truth paint.Truth) {
	t.Helper()
	return painted(t, folder, "2026-03-14T152310Z.png", "ordinary", paintedScene(paintedAt))
}

// noSun is a picture of a grey sky.
func noSun(t *testing.T, folder, name string) string {
	t.Helper()
	scene := paintedScene(paintedAt)
	scene.Camera.Limb.Centre = coords.Pixel{X: -5000, Y: -5000}
	scene.Camera.Sky = 0.2
	path, _ := painted(t, folder, name, "no Sun", scene)
	return path
}

// featureOf is what the painter knows of a thing.
func featureOf(t *testing.T, truth paint.Truth, label string) paint.Mark {
	t.Helper()
	for _, m := range truth.Marks {
		if m.Label == label {
			return m
		}
	}
	require.Failf(t, "no such thing was painted", "%q", label)
	return paint.Mark{}
}
