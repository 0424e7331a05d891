package desk

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"io"
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
	"limbwatch/catalog/gather"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
)

// pngHeader is the beginning of a grey 16-bit PNG.
func pngHeader(width, height uint32) []byte {
	body := append([]byte("IHDR"), make([]byte, 13)...)
	binary.BigEndian.PutUint32(body[4:], width)
	binary.BigEndian.PutUint32(body[8:], height)
	body[12] = 16
	out := append([]byte("\x89PNG\r\n\x1a\n"), 0, 0, 0, 13)
	out = append(out, body...)
	out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(body))
	return append(out, make([]byte, 60)...)
}

func TestUploadFindsTimeAndDisc(t *testing.T) {
	b := newBench(t).enter()
	p := smallSun()
	var got addedJSON
	require.Equal(t, http.StatusCreated, b.upload(p.name, p.png, &got))
	assert.Equal(t, "2026-03-14T15:23:10.000Z", got.Frame.UTC)
	assert.Contains(t, got.Frame.TimeText, "file name")
	require.NotNil(t, got.Frame.Disc)
	within(t, "centre x", got.Frame.Disc.XPx, p.truth.Limb.Centre.X, 0.3, " px", "painter's truth")
	within(t, "centre y", got.Frame.Disc.YPx, p.truth.Limb.Centre.Y, 0.3, " px", "painter's truth")

	var again addedJSON
	require.Equal(t, http.StatusOK, b.upload("other name.png", p.png, &again))
	assert.True(t, again.Known, "the same content is told")
	assert.Equal(t, got.Frame.ID, again.Frame.ID)
}

func TestUploadAsksForAZone(t *testing.T) {
	b := newBench(t).enter()
	p := smallSun()
	var asked struct {
		Error, Hint, Held, Time string
	}
	require.Equal(t, http.StatusUnprocessableEntity, b.upload("sun_2026-03-14_16-23-10.png", p.png, &asked))
	assert.Equal(t, "2026-03-14 16:23:10", asked.Time)
	var got addedJSON
	assert.Equal(t, http.StatusBadRequest, b.call("POST", apiPrefix+"held/"+asked.Held, map[string]string{"time": asked.Time, "zone": "CET"}, nil), "CET means several zones")
	require.Equal(t, http.StatusCreated, b.call("POST", apiPrefix+"held/"+asked.Held, map[string]string{"time": asked.Time, "zone": "Europe/Prague"}, &got))
	assert.Equal(t, "2026-03-14T15:23:10.000Z", got.Frame.UTC, "Prague was at +01:00 (tz database)")
	assert.Contains(t, got.Frame.TimeText, "file name", "the file's own time stands")
	assert.Equal(t, http.StatusNotFound, b.call("POST", apiPrefix+"held/"+asked.Held, map[string]string{"time": asked.Time, "zone": "UTC"}, nil), "asked once")
}

func TestUploadWithoutATime(t *testing.T) {
	b := newBench(t).enter()
	var asked struct{ Held string }
	require.Equal(t, http.StatusUnprocessableEntity, b.upload("sun.png", smallSun().png, &asked))
	for text, status := range map[string]int{"yesterday": http.StatusBadRequest, "2026-02-30 12:00": http.StatusBadRequest} {
		assert.Equal(t, status, b.call("POST", apiPrefix+"held/"+asked.Held, map[string]string{"time": text, "zone": "UTC"}, nil), text)
	}
	assert.Equal(t, http.StatusBadRequest, b.call("POST", apiPrefix+"held/"+asked.Held, map[string]string{"time": "2025-10-26 02:30", "zone": "Europe/Prague"}, nil),
		"an hour that occurs twice (tz database: clocks went back at 03:00)")
	var got addedJSON
	require.Equal(t, http.StatusCreated, b.call("POST", apiPrefix+"held/"+asked.Held, map[string]string{"time": "2026-03-14T15:23:10Z", "zone": "UTC"}, &got))
	assert.Equal(t, "2026-03-14T15:23:10.000Z", got.Frame.UTC)
}

// The figures of a pixel are those of coords/disc for the frame's own disc and north,
// digit by digit; the page has no conversion of its own.
func TestPlaceIsTheServersOwn(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	p := smallSun()
	stored, err := b.keeper.Store.Read(context.Background()).Disc(1)
	require.NoError(t, err)
	v := disc.View{Limb: stored.Limb, Layer: stored.Layer, Face: ephemeris.At(testDay),
		North: coords.North{Angle: p.truth.North.Angle, Sigma: 0.1 * coords.Degree}}
	frame, err := b.keeper.Store.Read(context.Background()).Frame(1)
	require.NoError(t, err)
	v.SigmaTime = time.Duration(frame.SigmaS * float64(time.Second))
	for _, at := range []coords.Pixel{{X: 310, Y: 240}, {X: 200.25, Y: 130.5}, {X: 420, Y: 330}, {X: 505, Y: 244}, {X: 530, Y: 244}} {
		var got figures
		require.Equal(t, http.StatusOK, b.call("GET", hereof(b, f.ID, fmt.Sprintf("place?x=%g&y=%g", at.X, at.Y)), nil, &got))
		want := v.Place(at, 0.5, disc.Height{})
		assert.Equal(t, want.Where.String(), got.Where)
		within(t, "position angle", *got.PADeg, want.PositionAngle.Degrees(), 1e-9, "°", "coords/disc")
		if want.Photosphere.Known {
			within(t, "latitude", *got.LatDeg, want.Photosphere.B.Degrees(), 1e-9, "°", "coords/disc")
			within(t, "longitude", *got.LonDeg, want.Photosphere.L.Degrees(), 1e-9, "°", "coords/disc")
			within(t, "its error", *got.SigmaLonDeg, want.Photosphere.Cov.SigmaL().Degrees(), 1e-9, "°", "coords/disc")
		} else {
			within(t, "height", float64(*got.HeightMm), want.Beyond.AboveSunMm, 1e-9, " Mm", "coords/disc")
		}
		require.NotEmpty(t, got.Lines)
	}
}

func TestMarkedSpotsLieWhereTheyWerePainted(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	p := smallSun()
	for _, label := range []string{"g1", "g2", "g3"} {
		truth := p.mark(t, label)
		require.True(t, truth.Visible, label)
		var got struct{ Mark markJSON }
		require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks"), map[string]any{
			"kind": "sunspot", "shape": "point", "points": [][2]float64{{truth.Pixel.X, truth.Pixel.Y}}, "label": label,
		}, &got))
		require.NotNil(t, got.Mark.Position)
		miss := coords.Heliographic{B: coords.Angle(got.Mark.Position.LatDeg) * coords.Degree, L: coords.Angle(got.Mark.Position.LonDeg) * coords.Degree}.Distance(truth.At)
		assert.Less(t, miss.Degrees(), 4*got.Mark.Position.SigmaDeg, "%s: the painter's truth within four of the stated errors", label)
	}
	_, day := b.frame(f.ID)
	require.Len(t, day.Marks, 3)
	assert.Equal(t, "g1", day.Marks[0].Name)
}

// The page tells all that the terminal tells of a mark, sizes with it.
func TestAMarkHasAllItsFigures(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	for shape, points := range map[string][][2]float64{
		"outline": {{300, 240}, {320, 240}, {320, 260}, {300, 260}}, "line": {{250, 200}, {280, 215}}} {
		var got struct{ Mark markJSON }
		require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks"), map[string]any{"kind": "filament", "shape": shape, "points": points}, &got))
		id, err := catalog.ParseMarkID(got.Mark.ID)
		require.NoError(t, err)
		entries, err := b.keeper.Store.Read(t.Context()).Entries(store.Query{Marks: []catalog.MarkID{id}})
		require.NoError(t, err)
		want, err := gather.MeasureAll(t.Context(), b.keeper, entries)
		require.NoError(t, err)
		assert.JSONEq(t, string(field.Object(field.Marks, &want[0])), string(got.Mark.Figures))
		var told struct {
			Area   *float64 `json:"area_msh"`
			Length *float64 `json:"length_km"`
		}
		require.NoError(t, json.Unmarshal(got.Mark.Figures, &told))
		if shape == "outline" {
			require.NotNil(t, told.Area)
			assert.Positive(t, *told.Area)
			assert.Contains(t, got.Mark.Text.More, "area ")
		} else {
			require.NotNil(t, told.Length)
			assert.Positive(t, *told.Length)
			assert.Contains(t, got.Mark.Text.More, "length ")
		}
	}
}

func TestStaleEditIsToldWithBothVersions(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	var m struct{ Mark markJSON }
	require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks"), map[string]any{"kind": "plage", "shape": "point", "points": [][2]float64{{300, 240}}}, &m))
	path := apiPrefix + "marks/" + m.Mark.ID
	require.Equal(t, http.StatusOK, b.call("POST", path, map[string]any{"revision": m.Mark.Revision, "note": "first"}, nil))
	var refused struct {
		Error, Hint string
		Now         markJSON
	}
	require.Equal(t, http.StatusConflict, b.call("POST", path, map[string]any{"revision": m.Mark.Revision, "note": "second"}, &refused))
	assert.Equal(t, "first", refused.Now.Note)
	require.Equal(t, http.StatusOK, b.call("POST", path, map[string]any{"revision": refused.Now.Revision, "note": "second"}, nil))
	assert.Equal(t, http.StatusConflict, b.call("POST", path+"/remove", map[string]any{"revision": m.Mark.Revision}, nil))
}

func TestUndoGoesAllTheWayBack(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	for i := range 3 {
		require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks"), map[string]any{"kind": "other", "shape": "point", "points": [][2]float64{{300 + float64(i), 240}}}, nil))
	}
	for left := 2; left >= 0; left-- {
		require.Equal(t, http.StatusOK, b.call("POST", apiPrefix+"undo", map[string]any{}, nil))
		_, day := b.frame(f.ID)
		assert.Len(t, day.Marks, left)
	}
	require.Equal(t, http.StatusOK, b.call("POST", apiPrefix+"redo", map[string]any{}, nil))
	_, day := b.frame(f.ID)
	assert.Len(t, day.Marks, 1)
	var last struct{ Title string }
	for range 10 { // marks, north, frame: and then there is nothing
		require.Equal(t, http.StatusOK, b.call("POST", apiPrefix+"undo", map[string]any{}, &last))
	}
	assert.Empty(t, last.Title)
}

func TestNamesAreEscaped(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	evil := `<script>alert(1)</script>"><img src=x>`
	require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks"), map[string]any{
		"kind": "sunspot", "shape": "point", "points": [][2]float64{{300, 240}}, "label": evil}, nil))
	for _, path := range []string{"/", apiPrefix + "frames/" + f.ID} {
		r, err := b.client.Get(b.url + path)
		require.NoError(t, err)
		body, err := io.ReadAll(r.Body)
		require.NoError(t, err)
		r.Body.Close()
		assert.Contains(t, string(body), "alert(1)", "the name is shown at %s", path)
		assert.NotContains(t, string(body), "<script>alert", path)
		assert.NotContains(t, string(body), "<img src", path)
	}
}

func TestPixelsKeepTheFullDepth(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	r, err := b.client.Get(b.url + hereof(b, f.ID, "pixels/0"))
	require.NoError(t, err)
	defer r.Body.Close()
	data, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	pic, _, err := b.keeper.OpenFrame(context.Background(), 1)
	require.NoError(t, err)
	require.Len(t, data, 2*pic.Width*pic.Height)
	for i, grey := range pic.Grey {
		require.EqualValues(t, grey, binary.LittleEndian.Uint16(data[2*i:]), "pixel %d", i)
	}
	assert.Equal(t, http.StatusBadRequest, b.call("GET", hereof(b, f.ID, "pixels/9"), nil, nil))
}

// A frame turned to its own time is itself; one turned by a day lies where the
// projection of the carried place says.
func TestTurnedPictureKeepsFeaturesInPlace(t *testing.T) {
	b := newBench(t).enter()
	first, _ := b.added()
	later := testDay.Add(26 * time.Hour)
	next := paintSun(t, "sun_"+later.Format("20060102_150405")+"Z.png", later, 640, 480, 190, nil)
	var got addedJSON
	require.Equal(t, http.StatusCreated, b.upload(next.name, next.png, &got))
	require.Equal(t, http.StatusOK, b.call("POST", hereof(b, got.Frame.ID, "north"), map[string]any{"angle_deg": 17.3, "method": "typed", "sigma_deg": 0.1}, nil))
	var info pixelsJSON
	require.Equal(t, http.StatusOK, b.call("GET", hereof(b, got.Frame.ID, "turned/"+first.ID+"/pixels"), nil, &info))
	r, err := b.client.Get(b.url + hereof(b, got.Frame.ID, "turned/"+first.ID+"/pixels/0"))
	require.NoError(t, err)
	defer r.Body.Close()
	data, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	require.Len(t, data, 2*640*480)
	at := func(x, y int) float64 { return float64(binary.LittleEndian.Uint16(data[2*(y*640+x):])) }
	for _, label := range []string{"g1", "g2", "g3"} {
		// The painter's spots have no motion of their own in Carrington longitude; the
		// law that the picture is turned by moves them by less than 1.5 px a day here.
		m := next.mark(t, label)
		dark, bright := 65535.0, 0.0
		var where coords.Pixel
		for dy := -8; dy <= 8; dy++ {
			for dx := -8; dx <= 8; dx++ {
				x, y := int(m.Pixel.X)+dx, int(m.Pixel.Y)+dy
				if v := at(x, y); v < dark {
					dark, where = v, coords.Pixel{X: float64(x), Y: float64(y)}
				}
				bright = max(bright, at(x, y))
			}
		}
		assert.Less(t, dark, 0.75*bright, "%s shows as a dark spot", label)
		within(t, label+" x", where.X, m.Pixel.X, 3.5, " px", "painter's truth of the later day")
		within(t, label+" y", where.Y, m.Pixel.Y, 3.5, " px", "painter's truth of the later day")
	}
	assert.Equal(t, http.StatusOK, b.call("GET", hereof(b, got.Frame.ID, "ghosts"), nil, nil))
}

func TestGeometryTriesANorthWithoutKeepingIt(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks"), map[string]any{"kind": "sunspot", "shape": "point", "points": [][2]float64{{250, 200}}}, nil))
	var kept, tried geometry
	require.Equal(t, http.StatusOK, b.call("GET", hereof(b, f.ID, "geometry?grid=degrees"), nil, &kept))
	require.Equal(t, http.StatusOK, b.call("GET", hereof(b, f.ID, "geometry?grid=degrees&north_deg=107.3&mirrored=false"), nil, &tried))
	require.Len(t, kept.Rim, 360)
	// A quarter of a turn counter-clockwise: the point of position angle 0 is where 90 was.
	within(t, "rim x", tried.Rim[0][0], kept.Rim[90][0], 0.01, " px", "a quarter turn")
	within(t, "rim y", tried.Rim[0][1], kept.Rim[90][1], 0.01, " px", "a quarter turn")
	assert.Contains(t, tried.Moves, "1 mark moves")
	var hardly, disc geometry
	require.Equal(t, http.StatusOK, b.call("GET", hereof(b, f.ID, "geometry?north_deg=17.301&mirrored=false"), nil, &hardly))
	assert.Equal(t, "no mark moves by 0.1°", hardly.Moves)
	l := f.Disc
	require.Equal(t, http.StatusOK, b.call("GET", hereof(b, f.ID, fmt.Sprintf("geometry?x=%g&y=%g&r=%g", l.XPx+10, l.YPx, l.RadiusPx)), nil, &disc))
	assert.Contains(t, disc.Moves, "1 mark moves", "a disc that is tried")
	now, _ := b.frame(f.ID)
	within(t, "north", now.North.CelestialDeg, 17.3, 1e-6, "°", "as it was kept")
	for _, q := range []string{"grid=everything", "north_deg=up", "x=1&y=2&r=-5", "north_deg=NaN"} {
		assert.Equal(t, http.StatusBadRequest, b.call("GET", hereof(b, f.ID, "geometry?"+q), nil, nil), q)
	}
}

// The page has the rule of the terminal: what looks like a slip is refused, says so, and is
// kept when it is meant.
func TestWhatLooksLikeASlipIsKeptWhenItIsMeant(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	middle := [][2]float64{{f.Disc.XPx, f.Disc.YPx}}
	far := [][2]float64{{f.Disc.XPx + 1.3*f.Disc.RadiusPx, f.Disc.YPx}}
	for _, slip := range []map[string]any{
		{"kind": "prominence", "shape": "point", "points": middle},
		{"kind": "sunspot", "shape": "point", "points": far},
	} {
		var why refusal
		require.Equal(t, http.StatusUnprocessableEntity, b.call("POST", hereof(b, f.ID, "marks"), slip, &why))
		assert.True(t, why.Odd)
		assert.Contains(t, why.Error, "disc")
		slip["force"] = true
		require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, f.ID, "marks"), slip, nil))
	}
}

func TestChangesReachAnotherTab(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, "GET", b.url+apiPrefix+"news", nil)
	require.NoError(t, err)
	r, err := b.client.Do(req)
	require.NoError(t, err)
	defer r.Body.Close()
	_, err = b.keeper.AddMark(ctx, catalog.Mark{Frame: 1, Kind: catalog.Other, Geometry: catalog.Geometry{Shape: catalog.Point, Pixels: []coords.Pixel{{X: 300, Y: 200}}}})
	require.NoError(t, err, "the command line marks something")
	var seen bytes.Buffer
	buffer := make([]byte, 256)
	for !strings.Contains(seen.String(), "event: changed") {
		n, err := r.Body.Read(buffer)
		seen.Write(buffer[:n])
		require.NoErrorf(t, err, "before the news came: %q", seen.String())
	}
	_, day := b.frame(f.ID)
	assert.Len(t, day.Marks, 1)
}

func TestScriptsMistakesAreTold(t *testing.T) {
	b := newBench(t).enter()
	f, _ := b.added()
	for _, c := range []struct {
		name, path string
		body       any
		status     int
	}{
		{"a field that is not there", "frames/" + f.ID + "/marks", map[string]any{"kind": "sunspot", "shape": "point", "point": 1}, http.StatusBadRequest},
		{"no such kind", "frames/" + f.ID + "/marks", map[string]any{"kind": "flare", "shape": "point"}, http.StatusBadRequest},
		{"a line of one point", "frames/" + f.ID + "/marks", map[string]any{"kind": "filament", "shape": "line", "points": [][2]float64{{1, 2}}}, http.StatusBadRequest},
		{"no such mark", "marks/M99", map[string]any{"revision": 1}, http.StatusNotFound},
		{"no mark's name", "marks/12", map[string]any{"revision": 1}, http.StatusBadRequest},
		{"a frame that is not there", "frames/F99/disc/accept", map[string]any{"revision": 1}, http.StatusNotFound},
		{"a disc of no size", "frames/" + f.ID + "/disc/typed", map[string]any{"revision": f.Disc.Revision, "x_px": 1, "y_px": 1, "radius_px": 0}, http.StatusBadRequest},
	} {
		t.Run(c.name, func(t *testing.T) {
			var why refusal
			assert.Equal(t, c.status, b.call("POST", apiPrefix+c.path, c.body, &why), why.Error)
			assert.NotEmpty(t, why.Error)
		})
	}
	assert.Empty(t, b.log.String(), "none of these is a fault of ours")
}

// What was followed for two days is expected on the third where it is painted then.
func TestFollowedFeaturesAreExpected(t *testing.T) {
	b := newBench(t).enter()
	labels := []string{"g1", "g2", "g3"}
	var last painted
	var id catalog.FrameID
	for day := range 3 {
		at := testDay.AddDate(0, 0, day)
		last = paintSun(t, "sun_"+at.Format("20060102_150405")+"Z.png", at, 640, 480, 190, nil)
		id = b.prepared(last, catalog.RoleSurface)
		if day == 2 {
			break // nothing is marked on the third day
		}
		for _, label := range labels {
			p := last.mark(t, label).Pixel
			require.Equal(t, http.StatusCreated, b.call("POST", hereof(b, id.String(), "marks"), map[string]any{"kind": "sunspot", "shape": "point", "points": [][2]float64{{p.X, p.Y}}}, nil))
		}
	}
	var said struct{ Words string }
	require.Equal(t, http.StatusOK, b.call("POST", apiPrefix+"follow", map[string]any{}, &said))
	assert.Contains(t, said.Words, "3 of them new")
	var got struct {
		Ghosts []ghost
		Due    []notch
	}
	require.Equal(t, http.StatusOK, b.call("GET", hereof(b, id.String(), "ghosts"), nil, &got))
	for _, label := range labels {
		truth := last.mark(t, label)
		if !truth.Visible {
			continue
		}
		nearest := 1e9
		for _, g := range got.Ghosts {
			nearest = min(nearest, math.Hypot(g.Points[0][0]-truth.Pixel.X, g.Points[0][1]-truth.Pixel.Y))
		}
		// The painted spots turn with the Carrington frame, spots on the Sun up to 0.3° a day
		// faster: 1° is 3.3 px here.
		assert.Less(t, nearest, 4.0, "px, %s is expected where it is painted", label)
	}
	assert.NotEmpty(t, got.Due, "g3, at 62° west, goes round the edge within two days")
}
