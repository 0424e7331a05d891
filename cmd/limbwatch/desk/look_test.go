package desk

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/coords"
	"limbwatch/coords/paint"
	"limbwatch/testdata"
)

// add adds a picture as the command line does.
func (b *bench) add(p painted) catalog.FrameID {
	b.t.Helper()
	added, err := b.keeper.AddFrame(context.Background(), observe.NewFrame{Path: p.file(b.t, b.t.TempDir())})
	require.NoError(b.t, err)
	return added.Frame.ID
}

// prepared adds a picture with its disc found and its north given, as the commands
// would.
func (b *bench) prepared(p painted, role catalog.Role) catalog.FrameID {
	b.t.Helper()
	ctx := context.Background()
	added, err := b.keeper.AddFrame(ctx, observe.NewFrame{Path: p.file(b.t, b.t.TempDir()), Role: role})
	require.NoError(b.t, err)
	require.NotNil(b.t, added.Disc, "the limb was found: %v", added.DiscRefused)
	_, err = b.keeper.AcceptDisc(ctx, added.Frame.ID, added.Disc.Revision)
	require.NoError(b.t, err)
	n := p.truth.North
	_, err = b.keeper.SetNorth(ctx, catalog.North{Frame: added.Frame.ID, Angle: n.Angle, Mirrored: n.Mirrored, Sigma: 0.1 * coords.Degree}, 0)
	require.NoError(b.t, err)
	return added.Frame.ID
}

// What the eye aims at is what is stored: lone bright pixels are looked for in a
// screenshot, clicked, and the database holds their place within 0.15 px; as taken,
// with the sky or the Sun up, and in a mirror.
func TestClicksHitTheirPixel(t *testing.T) {
	browserPath(t)
	targets := []coords.Pixel{{X: 170, Y: 200}, {X: 420, Y: 160}, {X: 300, Y: 400}} // never two in one view
	for _, mirrored := range []bool{false, true} {
		b := newBench(t)
		p := paintSun(t, "sun_20260314_152310Z.png", testDay, 640, 480, 190, func(s *paint.Scene) {
			s.Camera.North.Mirrored = mirrored
			s.Sun.Plages = nil
		})
		p.png = speckled(t, p.png, targets)
		b.prepared(p, catalog.RoleSurface)
		tb := b.openTab(1280, 720, "")
		tb.press("caution-read")
		tb.wait(`limbwatch.room.shown`)
		tb.press("do-ledger") // more room
		ways := []string{"taken", "sky", "sun", "mirror"}
		if mirrored {
			ways = []string{"taken", "sun"} // the other two turn it no other way
		}
		for _, looking := range ways {
			for i, target := range targets {
				scale := []float64{4, 5.3, 11}[i]
				eval[chromedp.Void](tb, fmt.Sprintf(`Promise.all([import("/static/room.js"), import("/static/showing.js")]).then(([r, m]) => {
					const l = limbwatch;
					if (l.state.mirror !== (%q === "mirror")) m.mirror();
					m.up(%q === "mirror" ? "sun" : %q);
					r.cancelFlight();
					const up = l.state.frame.up[l.state.up], flip = l.state.mirror ? -up.flip : up.flip, turn = up.turn_deg * Math.PI / 180;
					r.setView({...r.room.view, flip, turn: l.state.mirror ? -turn : turn, scale: %g, cx: %g, cy: %g, untouched: false});
					const room = r.room; // somewhat off the middle
				})`, looking, looking, looking, scale, target.X+9.3, target.Y-6.1))
				time.Sleep(250 * time.Millisecond) // the fine picture comes when the view rests
				tb.key("\x1b")
				tb.key("\x1b")
				tb.move(30, 700)
				x, y := brightest(t, tb.shoot(fmt.Sprintf("aim-%s-%d", looking, i)))
				before := eval[int](tb, `limbwatch.state.day.marks.length`)
				tb.key("1")
				tb.click(x, y)
				tb.settled(before + 1)
				got := eval[[2]float64](tb, `limbwatch.state.day.marks.at(-1).points[0]`)
				miss := math.Hypot(got[0]-target.X, got[1]-target.Y)
				assert.LessOrEqualf(t, miss, 0.15, "mirrored %v, %s up, %.1f screen pixels a pixel: aimed at (%g, %g) as seen, stored (%.3f, %.3f)",
					mirrored, looking, scale, target.X, target.Y, got[0], got[1])
				tb.key("u")
				tb.settled(before)
			}
		}
	}
}

// speckled sets single pixels of a 16-bit grey picture to white, and the rest dimmer.
func speckled(t *testing.T, data []byte, at []coords.Pixel) []byte {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	grey := img.(*image.Gray16)
	for i := 0; i < len(grey.Pix); i += 2 {
		v := (int(grey.Pix[i])<<8 | int(grey.Pix[i+1])) / 3
		grey.Pix[i], grey.Pix[i+1] = byte(v>>8), byte(v)
	}
	for _, p := range at {
		grey.SetGray16(int(p.X), int(p.Y), color.Gray16{Y: 65535})
	}
	var out bytes.Buffer
	require.NoError(t, png.Encode(&out, grey))
	return out.Bytes()
}

// brightest is the middle of the brightest patch of the room, in CSS pixels of a
// screenshot at one screen pixel a CSS pixel.
func brightest(t *testing.T, data []byte) (x, y float64) {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	box := image.Rect(40, 60, img.Bounds().Dx()-40, 540)
	n := 0.0
	for j := box.Min.Y; j < box.Max.Y; j++ {
		for i := box.Min.X; i < box.Max.X; i++ {
			r, g, b, _ := img.At(i, j).RGBA()
			if r == 0xffff && g == 0xffff && b == 0xffff { // nothing painted is pure white
				x, y, n = x+float64(i)+0.5, y+float64(j)+0.5, n+1
			}
		}
	}
	require.Greater(t, n, 8.0, "the lone pixel is seen")
	return math.Round(x / n), math.Round(y / n) // a pointer stands on whole pixels
}

// largeSun is a disc of 6.4 megapixels, painted once.
var largeSun = func() func(t *testing.T) painted {
	var kept *painted
	return func(t *testing.T) painted {
		if kept == nil {
			p := paintSun(t, "sun_20260314_152310Z.png", testDay, 3096, 2080, 880, func(s *paint.Scene) { s.Sun.Mottling.Strength = 0.05 })
			kept = &p
		}
		return *kept
	}
}()

// First sight, pan and zoom, and the pointer's figures on 6.4 megapixels of 16 bit,
// with the tone curve on. The limits are those that the page promises.
func TestThePageIsQuick(t *testing.T) {
	if testing.Short() {
		t.Skip("measures times; not with -short")
	}
	browserPath(t)
	b := newBench(t)
	id := b.prepared(largeSun(t), catalog.RoleSurface)

	tb := b.openTab(1280, 720, "")
	tb.wait(`limbwatch.room.shown`)
	slack := tb.business()
	sight := func() float64 {
		return eval[float64](tb, fmt.Sprintf(`import("/static/pictures.js").then(async (p) => {
			p.forget();
			const t = performance.now();
			return new Promise((done) => p.load("/frames/%s/pixels", () => requestAnimationFrame(() => done(performance.now() - t))));
		})`, id))
	}
	cold, warm := math.Inf(1), math.Inf(1)
	for range 2 {
		b.server.gallery = newGallery(galleryBytes) // as after a start
		cold = min(cold, sight())
		time.Sleep(300 * time.Millisecond)
		warm = min(warm, sight())
		time.Sleep(300 * time.Millisecond)
	}
	t.Logf("first sight: cold %.0f ms, warm %.0f ms", cold, warm)
	assert.LessOrEqual(t, cold, 2500*slack, "ms, first sight, cold")
	assert.LessOrEqual(t, warm, 1000*slack, "ms, first sight, warm")

	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown.disc.levels.length > 2`)
	eval[chromedp.Void](tb, `limbwatch.looks.change({gamma: 1.6, contrast: 1.3, boost: 0.4})`)
	for _, way := range []string{"pan", "zoom", "turn"} {
		best := runOf{}
		for range 4 {
			if best.FPS >= 55 || way == "turn" && best.FPS > 0 {
				break // enough is shown
			}
			if got := eval[runOf](tb, fmt.Sprintf(motionScript, way)); got.FPS > best.FPS {
				best = got
			}
		}
		t.Logf("%s: %.1f frames a second, 95 %% of frames within %.1f ms, %d of %d frames differ", way, best.FPS, best.P95, best.Changed, best.Frames)
		if way == "turn" {
			continue // reported only: it is not done by hand
		}
		assert.GreaterOrEqual(t, best.FPS, 50/slack, "%s, frames a second", way)
		assert.GreaterOrEqual(t, best.Changed, best.Frames*3/4, "%s: the presented picture changed", way)
	}

	tb.pointerTimes(slack)
}

// pointerTimes walks the pointer over the disc and measures, for every figure that came
// into the page, how long it took: to the figures from the handler of the pointer's
// event, and to the frame that shows them from the event's own time, before the browser
// gave it to the page. A frame is taken as painted in the first task after the next
// animation frame. The best of some rounds counts, as other programs only ever add.
func (tb *tab) pointerTimes(slack float64) {
	t := tb.t
	t.Helper()
	eval[chromedp.Void](tb, paintedScript)
	best := [2]float64{math.Inf(1), math.Inf(1)}
	for round := range 6 {
		if best[0] <= 11 && best[1] <= 38 {
			break
		}
		eval[chromedp.Void](tb, `pointed.clear(), limbwatch.figures.times.length = painted.length = 0`)
		for i := range 60 {
			tb.move(300+3*float64(i)+float64(round), 200+2*float64(i))
			time.Sleep(16 * time.Millisecond)
		}
		tb.wait(`painted.length > 30`)
		for k, what := range []string{"figures", "painted"} {
			times := eval[[]float64](tb, []string{`limbwatch.figures.times`, `painted`}[k])
			require.Greater(t, len(times), 30)
			slices.Sort(times)
			p95 := times[len(times)*95/100]
			best[k] = min(best[k], p95)
			t.Logf("%s: %d, median %.1f ms, 95 %% within %.1f ms", what, len(times), times[len(times)/2], p95)
		}
	}
	if best[0] > 12*slack || best[1] > 40*slack {
		slack = max(slack, tb.business()) // it may have become busy since
	}
	assert.LessOrEqual(t, best[0], 12*slack, "ms from the event's handler to the figures, 95th percentile")
	assert.LessOrEqual(t, best[1], 40*slack, "ms from the event to the painted frame, 95th percentile")
}

// paintedScript notes when each pointer event happened, finds it again by the place of
// which the figures are, and waits for the frame in which they stand.
const paintedScript = `(async () => {
	const {placeOf} = await import("/static/gestures.js"), box = document.getElementById("figures"), since = new Map();
	window.painted = [];
	window.pointed = since;
	for (const kind of ["pointerrawupdate", "pointermove"]) addEventListener(kind, (event) => {
		const at = placeOf(event.clientX, event.clientY), key = at.x + "," + at.y;
		if (!since.has(key)) since.set(key, event.timeStamp);
	}, {capture: true});
	new MutationObserver(() => {
		const start = since.get(box.dataset.x + "," + box.dataset.y);
		if (start === undefined) return;
		since.delete(box.dataset.x + "," + box.dataset.y);
		requestAnimationFrame(() => {
			const after = new MessageChannel();
			after.port1.onmessage = () => { painted.push(performance.now() - start); after.port1.close(); };
			after.port2.postMessage(0);
		});
	}).observe(box, {attributes: true, attributeFilter: ["data-x", "data-y"]});
})()`

// business says by how much the limits of time are widened because other programs
// keep the machine busy: a page that draws nothing and asks for nothing but one word
// of the server is measured first. On a quiet machine it is 1.
func (tb *tab) business() float64 {
	tb.t.Helper()
	got := eval[[2]float64](tb, `(async () => {
		const gaps = [], asked = [];
		let last = await new Promise(requestAnimationFrame);
		for (let i = 0; i < 60; i++) {
			const now = await new Promise(requestAnimationFrame);
			gaps.push(now - last);
			last = now;
			const t = performance.now();
			await (await fetch("/static/mark.svg")).text();
			asked.push(performance.now() - t);
		}
		asked.sort((a, b) => a - b);
		gaps.sort((a, b) => a - b);
		return [gaps[54], asked[54]];
	})()`)
	slack := max(1, got[0]/20, got[1]/14)
	if slack > 1 {
		slack = min(10, 2*slack)
		tb.t.Logf("THE MACHINE IS BUSY: an empty page draws within %.0f ms and gets a word within %.0f ms (9 in 10); limits of time are widened %.1f times", got[0], got[1], slack)
	}
	return slack
}

type runOf struct {
	FPS, P95        float64
	Frames, Changed int
}

// motionScript moves the view for 90 frames and looks, in each, at a strip of what
// is presented.
const motionScript = `(async () => {
	const way = %q, r = await import("/static/room.js"), v = await import("/static/view.js");
	const strip = document.getElementById("picture").getContext("2d"), stamps = [];
	let last = "", changed = 0, seen = 0;
	await new Promise((done) => {
		const step = (now) => {
			stamps.push(now);
			if (stamps.length %% 5 === 0) { // reading back costs, so one in five is looked at
				const s = strip.getImageData(400, 300, 32, 2).data.join();
				seen++;
				if (s !== last) changed++;
				last = s;
			}
			const k = stamps.length, at = r.room.view;
			if (way === "pan") r.setView({...at, untouched: false, cx: at.cx + (k %% 60 < 30 ? 7 : -7), cy: at.cy + 3 * Math.sin(k)});
			else if (way === "zoom") r.setView({...v.zoomedAt(at, 460, 300, k %% 60 < 30 ? 1.06 : 1 / 1.06, r.limits()), untouched: false});
			else r.setView({...at, untouched: false, turn: at.turn + 0.02});
			if (stamps.length < 90) requestAnimationFrame(step); else done();
		};
		requestAnimationFrame(step);
	});
	const gaps = stamps.slice(6).map((t, i, a) => i ? t - a[i - 1] : 0).slice(1).sort((a, b) => a - b);
	return {FPS: 1000 * gaps.length / gaps.reduce((a, b) => a + b), P95: gaps[Math.floor(gaps.length * 0.95)], Frames: seen, Changed: changed};
})()`

// The page's figures are those of "limbwatch place", digit by digit.
func TestFiguresEqualThePlaceCommand(t *testing.T) {
	browserPath(t)
	b := newBench(t)
	id := b.prepared(smallSun(), catalog.RoleSurface)
	ctx := context.Background()
	stored, err := b.keeper.Store.Read(ctx).Disc(id)
	require.NoError(t, err)
	frame, err := b.keeper.Store.Read(ctx).Frame(id)
	require.NoError(t, err)
	// The command takes a circle with one error; the stored one gets the same.
	circle := coords.Limb{Centre: stored.Limb.Centre, RadiusPx: stored.Limb.RadiusPx, Cov: coords.LimbCovariance{XX: 0.04, YY: 0.04, RR: 0.04}}
	_, err = b.keeper.SetCircle(ctx, id, circle, &coords.Layer{HeightMm: 4.35, SigmaMm: 0.5}, stored.Revision)
	require.NoError(t, err)

	command := filepath.Join(t.TempDir(), "limbwatch")
	build := exec.Command("go", "build", "-o", command, "..")
	out, err := build.CombinedOutput()
	require.NoErrorf(t, err, "%s", out)
	tb := b.openTab(1280, 720, "")
	tb.press("caution-read")
	tb.wait(`limbwatch.room.shown`)
	for _, at := range [][2]float64{{400, 260}, {520, 350}, {466, 420}, {610, 300}, {690, 305}} {
		tb.move(at[0]-3, at[1])
		tb.move(at[0], at[1])
		time.Sleep(250 * time.Millisecond)
		x, y := eval[float64](tb, `Number(document.getElementById("figures").dataset.x)`), eval[float64](tb, `Number(document.getElementById("figures").dataset.y)`)
		shown := eval[string](tb, `document.getElementById("figures").textContent`)
		said, err := exec.Command(command, "place", "--at", testDay.Format(time.RFC3339), "--limb", "4.35", "--sigma-limb-mm", "0.5", "--sigma-disc-px", "0.2",
			"--disc", fmt.Sprintf("%v,%v,%v", circle.Centre.X, circle.Centre.Y, circle.RadiusPx), "--north", "17.3", "--sigma-north-deg", "0.1",
			"--sigma-time-s", fmt.Sprint(frame.SigmaS), fmt.Sprintf("%v,%v", x, y)).CombinedOutput()
		require.NoErrorf(t, err, "%s", said)
		assertSameDigits(t, shown, string(said))
	}
}

// assertSameDigits finds every figure of the command's latitude, meridian distance and
// longitude, or height, in what the page shows.
func assertSameDigits(t *testing.T, shown, said string) {
	t.Helper()
	compared := 0
	for _, line := range strings.Split(said, "\n") {
		name, rest, _ := strings.Cut(strings.TrimSpace(line), "  ")
		field, _, _ := strings.Cut(strings.TrimSpace(rest), " ")
		figure := strings.TrimLeft(strings.TrimRight(field, "°"), "+-")
		switch name {
		case "latitude", "from meridian", "longitude":
			whole, _, _ := strings.Cut(figure, ".")
			width := map[string]int{"latitude": 2, "from meridian": 2, "longitude": 3}[name]
			figure = strings.Repeat("0", max(0, width-len(whole))) + figure
		case "height":
			_, after, _ := strings.Cut(rest, "limb, ")
			figure, _, _ = strings.Cut(after, " ")
		default:
			continue
		}
		assert.Containsf(t, shown, figure, "%s of the command is in the page:\n%s\nthe page:\n%s", name, said, shown)
		compared++
	}
	assert.Positive(t, compared, said)
}

// Over a real picture the page finds the disc as the commands do.
func TestRealPicture(t *testing.T) {
	path := testdata.Shared(t, "data", "gong-halpha", "gong_20140709T195814_Mh.png")
	browserPath(t)
	b := newBench(t)
	tb := b.openTab(1280, 720, "")
	tb.press("caution-read")
	tb.choose(path)
	tb.wait(`document.querySelector(".asked input[name=zone]")`)
	tb.shoot("asked-zone")
	eval[chromedp.Void](tb, `document.querySelector(".asked input[name=zone]").value = ""`)
	tb.do(chromedp.SendKeys(chromedp.CSS(".asked input[name=zone]"), "UTC\r"))
	tb.wait(`limbwatch.state.frame?.id === "F1" && limbwatch.room.shown`)
	tb.shoot("real-night")
	x, y, r := eval[float64](tb, `limbwatch.state.frame.disc.x_px`), eval[float64](tb, `limbwatch.state.frame.disc.y_px`), eval[float64](tb, `limbwatch.state.frame.disc.radius_px`)
	w := eval[float64](tb, `limbwatch.state.frame.width_px`)
	// The README of these pictures: the disc stands in the middle of the picture.
	within(t, "centre x", x, w/2, 0.02*w, " px", "the picture's README")
	within(t, "centre y", y, w/2, 0.02*w, " px", "the picture's README")
	assert.Greater(t, r, 0.3*w)
}
