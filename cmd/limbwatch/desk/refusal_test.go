package desk

import (
	"context"
	"encoding/json"
	"fmt"
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

// newest stands for the revision of a thing as it is when it is changed.
type newest struct{}

// revision is that of what a path of F1 and M1 changes, 0 when it is not there.
func (b *bench) revision(path string) int64 {
	v := b.keeper.Store.Read(context.Background())
	switch {
	case strings.HasPrefix(path, "marks/"):
		m, _ := v.Mark(1)
		return m.Revision
	case strings.Contains(path, "/disc/"):
		d, _ := v.Disc(1)
		return d.Revision
	case strings.HasSuffix(path, "/north"):
		n, _ := v.North(1)
		return n.Revision
	}
	f, _ := v.Frame(1)
	return f.Revision
}

// What is no point, no circle, no north and no revision is refused with its value and
// changes nothing.
func TestFiguresOfRequestsAreReadWhole(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	var m struct{ Mark markJSON }
	require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks"), map[string]any{"kind": "sunspot", "shape": "point", "points": [][2]float64{{300, 240}}}, &m))
	before, dayBefore := b.frame(f.ID)
	refuses := func(path, body, names string) {
		var why refusal
		status := b.call("POST", apiPrefix+path, json.RawMessage(body), &why)
		assert.Equalf(t, http.StatusBadRequest, status, "%s %s", path, body)
		assert.Containsf(t, why.Error, names, "%s %s", path, body)
		assert.NotEmptyf(t, why.Hint, "%s %s", path, body)
	}
	for _, c := range []struct{ points, names string }{
		{`[[500]]`, "point [500]: want exactly two numbers"},
		{`[[]]`, "point []: want exactly two"}, {`[null]`, "point null: want exactly two"}, {`[[1,2,3]]`, "point [1,2,3]: want exactly two"},
		{`[["NaN","NaN"]]`, `point ["NaN","NaN"]`}, {`[[1,1e999]]`, "1e999"}, {`[[300,null]]`, "point [300,null]"},
		{`[[1e308,1]]`, "1e+308"},
	} {
		refuses("frames/F1/marks", `{"kind":"sunspot","shape":"point","points":`+c.points+`}`, c.names)
		refuses("marks/M1", fmt.Sprintf(`{"revision":%d,"points":%s}`, m.Mark.Revision, c.points), c.names)
		if c.names != "1e+308" { // one point is too few for a circle, whichever it is
			refuses("frames/F1/disc/points", fmt.Sprintf(`{"revision":%d,"points":%s}`, b.revision("frames/F1/disc/points"), c.points), c.names)
		}
	}
	discRevision := b.revision("frames/F1/disc/typed")
	for _, c := range []struct{ circle, names string }{
		{`"x_px":310,"y_px":244,"radius_px":1e-300`, "1e-300"}, {`"x_px":310,"y_px":244,"radius_px":1e300`, "1e+300"}, {`"x_px":310,"y_px":244`, "radius_px"},
		{`"x_px":310,"y_px":null,"radius_px":190`, "y_px"}, {`"x_px":1e308,"y_px":244,"radius_px":190`, "1e+308"}, {`"x_px":310,"y_px":244,"radius_px":190,"sigma_px":-1`, "-1 px"},
	} {
		refuses("frames/F1/disc/typed", fmt.Sprintf(`{"revision":%d,%s}`, discRevision, c.circle), c.names)
	}
	for _, c := range []struct{ north, names string }{
		{`"angle_deg":1e308`, "1e+308"}, {`"angle_deg":-361`, "-361"}, {`"mirrored":false`, "angle_deg"}, {`"angle_deg":null`, "angle_deg"}, {`"angle_deg":10,"sigma_deg":-2`, "-2"},
	} {
		refuses("frames/F1/north", fmt.Sprintf(`{"revision":%d,%s}`, b.revision("frames/F1/north"), c.north), c.names)
	}
	for path, rest := range map[string]string{
		"frames/F1": `"note":"n"`, "frames/F1/disc/find": "", "frames/F1/disc/circle": `"number":1`, "frames/F1/disc/accept": "", "frames/F1/disc/refuse": "",
		"frames/F1/disc/typed": `"x_px":310,"y_px":244,"radius_px":190`, "frames/F1/north": `"angle_deg":17`, "frames/F1/remove": "",
		"marks/M1": `"note":"n"`, "marks/M1/remove": "",
	} {
		for _, revision := range []string{"-1", "-9", "1.5", `"1"`, "null"} {
			refuses(path, strings.TrimSuffix(`{"revision":`+revision+`,`+rest, ",")+"}", "revision "+revision)
		}
	}
	after, dayAfter := b.frame(f.ID)
	assert.Equal(t, before, after)
	assert.Equal(t, dayBefore.Marks, dayAfter.Marks)
	assert.NotContains(t, b.log.String(), "failed", "none of these is a fault of ours")
}

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
		"frames/F1":             {"revision": newest{}, "time": "2026-03-14 15:23:10", "zone": "UTC", "role": "surface", "note": "n"},
		"frames/F1/disc/find":   {"revision": newest{}},
		"frames/F1/disc/circle": {"revision": newest{}, "number": 1},
		"frames/F1/disc/points": {"revision": newest{}, "points": [][2]float64{{500, 240}, {310, 50}, {120, 240}, {310, 430}}, "sigma_click_px": 1.0},
		"frames/F1/disc/typed":  {"revision": newest{}, "x_px": 310.0, "y_px": 244.0, "radius_px": 190.0, "sigma_px": 1.0},
		"frames/F1/disc/accept": {"revision": newest{}},
		"frames/F1/north":       {"revision": newest{}, "angle_deg": 17.0, "mirrored": false, "sigma_deg": 1.0, "method": "typed"},
		"frames/F1/marks": {"kind": "sunspot", "shape": "point", "points": [][2]float64{{300, 240}}, "sigma_click_px": 0.5, "label": "l", "note": "n",
			"is": ""},
		"marks/M1":             {"revision": newest{}, "points": [][2]float64{{301, 240}}, "sigma_click_px": 0.5, "kind": "sunspot", "label": "l", "note": "n", "spots": "3"},
		"marks/M1/join":        {"passage": "new", "with": ""},
		"marks/M1/part":        {},
		"marks/M99/join":       {"passage": "new"},
		"marks/M99/part":       {},
		"held/x":               {"time": "2026-03-14 15:23:10", "zone": "UTC"},
		"follow":               {},
		"frames/F1/disc/other": {"revision": newest{}},
	}
	tried, accepted := 0, 0
	try := func(method, path string, body map[string]any, what any) {
		if body["revision"] == (newest{}) {
			body = maps.Clone(body)
			body["revision"] = b.revision(path)
		}
		var why refusal
		status := b.call(method, apiPrefix+path, body, &why)
		tried++
		if !assert.Lessf(t, status, 500, "%s %s with %.80v: %s", method, path, what, why.Error) {
			return
		}
		if status < 400 {
			accepted++
		} else {
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
	t.Logf("%d requests, %d of them accepted", tried, accepted)
	assert.Greater(t, accepted, 100, "they reach what they would change")
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
