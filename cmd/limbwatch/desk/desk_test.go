package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"math"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
)

// bench is a desk over an empty catalogue, served as Run serves it, with a client
// that has not been let in yet.
type bench struct {
	t      *testing.T
	dir    string
	keeper observe.Keeper
	server *Server
	door   *door
	url    string
	client *http.Client
	log    *bytes.Buffer
	gone   atomic.Bool // the server answers no more
	lost   bool        // it will be gone for a while, which the browser logs
}

func newBench(t *testing.T) *bench {
	t.Helper()
	dir := t.TempDir()
	now := func() time.Time { return time.Date(2026, 3, 14, 18, 0, 0, 0, time.UTC) }
	k, err := observe.Open(context.Background(), filepath.Join(dir, "catalogue.db"), catalog.Terminal, now)
	require.NoError(t, err)
	b := benchOn(t, k)
	b.dir = dir
	return b
}

// benchOn is a desk over a catalogue that is there, and closes it in the end.
func benchOn(t *testing.T, k observe.Keeper) *bench {
	t.Helper()
	b := &bench{t: t, keeper: k, log: &bytes.Buffer{}}
	var err error
	b.server, err = NewServer(Dependencies{Keeper: b.keeper, Log: slog.New(slog.NewTextHandler(b.log, nil)), Cautions: []string{"Never look."}, Program: "limbwatch 1.2.3"})
	require.NoError(t, err)
	web := httptest.NewUnstartedServer(nil)
	b.door = newDoor(web.Listener.Addr().String(), nil)
	guarded := b.door.guard(b.server)
	web.Config.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if b.gone.Load() {
			panic(http.ErrAbortHandler)
		}
		guarded.ServeHTTP(w, r)
	})
	web.Start()
	b.url = web.URL
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	b.client = &http.Client{Jar: jar}
	t.Cleanup(func() {
		b.server.Close()
		web.Close()
		require.NoError(t, b.keeper.Close())
	})
	return b
}

// enter lets the client in by the printed address.
func (b *bench) enter() *bench {
	b.t.Helper()
	r, err := b.client.Get(b.door.address())
	require.NoError(b.t, err)
	r.Body.Close()
	require.Equal(b.t, http.StatusOK, r.StatusCode)
	return b
}

// call sends JSON and decodes the answer into into, which may be nil.
func (b *bench) call(method, path string, body, into any) (status int) {
	b.t.Helper()
	var send io.Reader
	if body != nil {
		data, err := json.Marshal(body)
		require.NoError(b.t, err)
		send = bytes.NewReader(data)
	}
	req, err := http.NewRequest(method, b.url+path, send)
	require.NoError(b.t, err)
	r, err := b.client.Do(req)
	require.NoError(b.t, err)
	defer r.Body.Close()
	data, err := io.ReadAll(r.Body)
	require.NoError(b.t, err)
	if into != nil {
		require.NoErrorf(b.t, json.Unmarshal(data, into), "%s %s answered %d %s", method, path, r.StatusCode, data)
	}
	return r.StatusCode
}

// upload sends a file as the page does.
func (b *bench) upload(name string, content []byte, into any) (status int) {
	b.t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	part, err := form.CreateFormFile("picture", name)
	require.NoError(b.t, err)
	_, err = part.Write(content)
	require.NoError(b.t, err)
	require.NoError(b.t, form.Close())
	r, err := b.client.Post(b.url+apiPrefix+"frames", form.FormDataContentType(), &body)
	require.NoError(b.t, err)
	defer r.Body.Close()
	data, err := io.ReadAll(r.Body)
	require.NoError(b.t, err)
	if into != nil {
		require.NoErrorf(b.t, json.Unmarshal(data, into), "upload answered %d %s", r.StatusCode, data)
	}
	return r.StatusCode
}

// painted is a picture of a small invented Sun, with its truth.
type painted struct {
	name  string
	png   []byte
	truth paint.Truth
	at    time.Time
}

// The Sun of the tests: a group in its plage, two filaments, one prominence beyond
// either limb; all of it invented.
func inventedSun() paint.Sun {
	at := func(b, l float64) coords.Heliographic {
		return coords.Heliographic{B: coords.Angle(b) * coords.Degree, L: coords.Angle(l) * coords.Degree}
	}
	return paint.Sun{
		Spots: []paint.Spot{
			{Label: "g1", At: at(14, 75), UmbraMm: 6, PenumbraMm: 14},
			{Label: "g2", At: at(-11, 48), UmbraMm: 5, PenumbraMm: 12},
			{Label: "g3", At: at(22, 100), UmbraMm: 4, PenumbraMm: 9},
		},
		Plages: []paint.Plage{{Label: "p1", At: at(14, 75), LengthMm: 90, WidthMm: 50, Brightness: 0.5}},
		Filaments: []paint.Filament{
			{Label: "f1", Spine: []coords.Heliographic{at(-25, 70), at(-27, 78), at(-24, 86)}, HeightMm: 30, WidthMm: 8, Depth: 1.2},
			{Label: "f2", Spine: []coords.Heliographic{at(33, 50), at(30, 58)}, HeightMm: 25, WidthMm: 7, Depth: 1.2},
		},
		Prominences: []paint.Prominence{
			{Label: "q1", At: at(20, 333), LengthMm: 50, HeightMm: 70, AlongDeg: 90},
			{Label: "q2", At: at(-15, 153), LengthMm: 40, HeightMm: 55, AlongDeg: 90},
		},
	}
}

// paintSun paints a picture width by height with a disc of the given radius.
func paintSun(t *testing.T, name string, at time.Time, width, height int, radiusPx float64, change func(*paint.Scene)) painted {
	t.Helper()
	scene := paint.Scene{Sun: inventedSun(), Face: ephemeris.At(at), Band: paint.DoubleStack(), Camera: paint.Centred(width, height, radiusPx), Seed: 1}
	scene.Camera.Limb.Centre = coords.Pixel{X: float64(width)/2 - 9.3, Y: float64(height)/2 + 4.6}
	scene.Camera.North = coords.North{Angle: 17.3 * coords.Degree}
	if change != nil {
		change(&scene)
	}
	frame, err := paint.Paint(scene)
	require.NoError(t, err)
	var png bytes.Buffer
	require.NoError(t, frame.WritePNG(&png))
	return painted{name: name, png: png.Bytes(), truth: frame.Truth, at: at}
}

var testDay = time.Date(2026, 3, 14, 15, 23, 10, 0, time.UTC)

// smallSun is painted once for all tests that do not need a large picture.
var smallSun = sync.OnceValue(func() painted {
	t := &testing.T{}
	return paintSun(t, "sun_20260314_152310Z.png", testDay, 640, 480, 190, nil)
})

// mark finds a painted feature's truth.
func (p painted) mark(t *testing.T, label string) paint.Mark {
	t.Helper()
	for _, m := range p.truth.Marks {
		if m.Label == label {
			return m
		}
	}
	t.Fatalf("the painter has no feature %q", label)
	return paint.Mark{}
}

// added uploads the small Sun and gives its north to the catalogue; it returns the
// frame as the page has it.
func (b *bench) added() (f frameJSON, day dayJSON) {
	b.t.Helper()
	p := smallSun()
	var got addedJSON
	require.Equal(b.t, http.StatusCreated, b.upload(p.name, p.png, &got))
	require.NotNil(b.t, got.Frame.Disc, "the limb was found")
	require.Equal(b.t, http.StatusOK, b.call("POST", apiPrefix+"frames/"+got.Frame.ID+"/north", map[string]any{
		"revision": 0, "angle_deg": p.truth.North.Angle.Degrees(), "mirrored": p.truth.North.Mirrored, "sigma_deg": 0.1, "method": "typed",
	}, nil))
	return b.frame(got.Frame.ID)
}

func (b *bench) frame(id string) (frameJSON, dayJSON) {
	b.t.Helper()
	var got struct {
		Frame frameJSON
		Day   dayJSON
	}
	require.Equal(b.t, http.StatusOK, b.call("GET", apiPrefix+"frames/"+id, nil, &got))
	return got.Frame, got.Day
}

func within(t *testing.T, what string, got, want, allowed float64, unit, source string) {
	t.Helper()
	if off := got - want; !(math.Abs(off) <= allowed) {
		t.Errorf("%s: got %.4f%s, want %.4f%s ± %g%s (%s)", what, got, unit, want, unit, allowed, unit, source)
	}
}

func hereof(b *bench, id, rest string) string {
	return fmt.Sprintf("%sframes/%s/%s", apiPrefix, id, rest)
}
