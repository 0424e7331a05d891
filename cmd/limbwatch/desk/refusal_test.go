package desk

import (
	"maps"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Whatever value a script sends in any field of any change, it is done or refused with
// what was wrong and what to do; never is it called a fault of ours.
func TestNoValueMakesABare500(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	var m struct{ Mark markJSON }
	require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks"), map[string]any{"kind": "sunspot", "shape": "point", "points": [][2]float64{{300, 240}}}, &m))
	odd := []any{nil, "", "x", "P99", "M99", "new", -1, 0, 1, 7, 1e9, -1e300, true, []any{}, map[string]any{}, strings.Repeat("long ", 20_000),
		[][2]float64{{1, 1}}, [][2]float64{{-1e9, 1e9}}, [][2]float64{{1, 1}, {1, 1}, {1, 1}, {1, 1}}, []any{[]any{"a", "b"}}, " \x00\u202e"}
	sound := map[string]map[string]any{
		"frames/F1":             {"revision": -1, "time": "2026-03-14 15:23:10", "zone": "UTC", "role": "surface", "note": "n"},
		"frames/F1/disc/find":   {"revision": -1},
		"frames/F1/disc/points": {"revision": -1, "points": [][2]float64{{500, 240}, {310, 50}, {120, 240}, {310, 430}}, "sigma_click_px": 1.0},
		"frames/F1/disc/typed":  {"revision": -1, "x_px": 310.0, "y_px": 244.0, "radius_px": 190.0, "sigma_px": 1.0},
		"frames/F1/disc/accept": {"revision": -1},
		"frames/F1/north":       {"revision": -1, "angle_deg": 17.0, "mirrored": false, "sigma_deg": 1.0, "method": "typed"},
		"frames/F1/marks": {"kind": "sunspot", "shape": "point", "points": [][2]float64{{300, 240}}, "sigma_click_px": 0.5, "label": "l", "note": "n",
			"is": ""},
		"marks/M1":             {"revision": -1, "points": [][2]float64{{301, 240}}, "sigma_click_px": 0.5, "kind": "sunspot", "label": "l", "note": "n", "spots": "3"},
		"marks/M1/join":        {"passage": "new", "with": ""},
		"marks/M1/part":        {},
		"marks/M99/join":       {"passage": "new"},
		"marks/M99/part":       {},
		"held/x":               {"time": "2026-03-14 15:23:10", "zone": "UTC"},
		"follow":               {},
		"frames/F1/disc/other": {"revision": -1},
	}
	tried := 0
	try := func(method, path string, body map[string]any, what any) {
		var why refusal
		status := b.call(method, apiPrefix+path, body, &why)
		tried++
		if !assert.Lessf(t, status, 500, "%s %s with %.80v: %s", method, path, what, why.Error) {
			return
		}
		if status >= 400 {
			assert.NotEmptyf(t, why.Error, "%s %s with %.80v", method, path, what)
			assert.NotEmptyf(t, why.Hint, "%s %s with %.80v: %s", method, path, what, why.Error)
		}
	}
	for _, path := range slices.Sorted(maps.Keys(sound)) {
		try("POST", path, sound[path], "sound values")
		for _, field := range slices.Sorted(maps.Keys(sound[path])) {
			for _, value := range odd {
				body := maps.Clone(sound[path])
				body[field] = value
				try("POST", path, body, field+" odd")
			}
		}
		try("POST", path, map[string]any{"surplus": 1}, "a field too many")
	}
	// What is asked for in the address.
	for path, fields := range map[string][]string{
		"frames/F1/geometry": {"grid", "x", "y", "r", "north_deg", "mirrored"},
		"frames/F1/place":    {"x", "y", "sigma", "disc_x", "disc_y", "disc_r", "north_deg", "sigma_north_deg", "mirrored"},
		"frames/F1/edge":     {"x", "y"}, "frames/F1/north/propose": {"method"}, "marks/M1/edge": {"x"},
	} {
		for _, field := range fields {
			for _, value := range []string{"", "x", "NaN", "Inf", "-1", "0", "1e308", "1e-320", "300", "\x00", "..", strings.Repeat("9", 400)} {
				q := url.Values{"x": {"300"}, "y": {"240"}}
				q.Set(field, value)
				try("GET", path+"?"+q.Encode(), nil, field+"="+value)
			}
		}
	}
	t.Logf("%d requests", tried)
	assert.NotContains(t, b.log.String(), "failed", "none of these is a fault of ours")
	f, _ = b.frame(f.ID)
	assert.False(t, math.IsNaN(f.Disc.XPx))
}

// A file that is broken is the file's fault, and the answer says what to do.
func TestBrokenFilesAreRefusedWithAdvice(t *testing.T) {
	b := newBench(t).enter()
	whole := smallSun().png
	for name, content := range map[string][]byte{
		"cut_20260314_152310Z.png": whole[:len(whole)/2], "head_20260314_152310Z.png": whole[:20], "none_20260314_152310Z.png": {},
		"words_20260314_152310Z.png": []byte("no picture at all"), "words_20260314_152310Z.tif": []byte("II*\x00\xff\xff\xff\x00"),
		"words_20260314_152310Z.fits": []byte("SIMPLE  =                    T" + strings.Repeat(" ", 50) + "END"), "words_20260314_152310Z.jpg": []byte("\xff\xd8\xff\xe0\x00\x10JFIF"),
		"a_20260314_152310Z.txt": []byte("text"),
	} {
		var why refusal
		status := b.upload(name, content, &why)
		assert.Truef(t, status >= 400 && status < 500, "%s: %d %s", name, status, why.Error)
		assert.NotEmpty(t, why.Error, name)
		assert.NotEmpty(t, why.Hint, "%s: %s", name, why.Error)
	}
	assert.Empty(t, b.log.String())
}
