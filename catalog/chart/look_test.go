//go:build look

package chart

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"limbwatch/catalog/chart/canvas"
)

// Charts to look at, which no assertion can judge:
//
//	CHART_LOOK=folder go test -tags look -run Look ./catalog/chart

func save(t *testing.T, name string, draw func(Options) (*canvas.Canvas, error)) {
	folder := os.Getenv("CHART_LOOK")
	require.NotEmpty(t, folder, "CHART_LOOK names the folder for the pictures")
	for _, theme := range []Theme{Paper, Day, Night} {
		o := Options{Theme: theme, Density: 1.5}
		c, err := draw(o)
		require.NoError(t, err)
		for _, f := range []Format{SVG, PNG} {
			var b bytes.Buffer
			require.NoError(t, Write(&b, c, f, o))
			require.NoError(t, os.WriteFile(filepath.Join(folder, name+"-"+theme.Name+"."+f.String()), b.Bytes(), 0o644))
		}
	}
}

var lookStart = time.Date(2026, 3, 1, 11, 0, 0, 0, time.UTC)

func TestLookDisc(t *testing.T) {
	sun := paintedSun(lookStart, 31)
	day := paintedAt(t, sun, time.Date(2026, 3, 14, 15, 23, 10, 0, time.UTC), 1100, 470, true)
	in := DiscInput{Picture: day.picture, View: day.view, UTC: day.utc, Entries: day.entries, Heading: "Hill Garden · 60 mm refractor, H-alpha double stack 0.5 Å · seeing 2 (Kiepenheuer)"}
	drawdisc := func(o Options) (*canvas.Canvas, error) { return Disc(in, o) }
	save(t, "disc", drawdisc)
	save(t, "disc-phone", narrow(drawdisc))
	in.Up, in.Carrington = AsTaken, true
	save(t, "disc-taken", func(o Options) (*canvas.Canvas, error) { return Disc(in, o) })
	in.Up, in.Picture = CelestialNorthUp, nil
	save(t, "disc-bare", func(o Options) (*canvas.Canvas, error) { return Disc(in, o) })
}

func TestLookMap(t *testing.T) {
	start := time.Date(2026, 2, 20, 10, 30, 0, 0, time.UTC)
	sun := paintedSun(start, 40)
	in := MapInput{Rotation: 2308, Heading: "Hill Garden"}
	cloudy := map[int]bool{3: true, 9: true, 10: true, 11: true, 12: true, 13: true, 14: true, 15: true, 16: true, 17: true, 22: true}
	for d := range 38 {
		if cloudy[d] {
			continue
		}
		day := paintedAt(t, sun, start.AddDate(0, 0, d).Add(time.Duration(d%5)*time.Hour), 520, 230, true)
		in.Looks = append(in.Looks, Look{Frame: day.entries[0].Frame.ID, UTC: day.utc, View: &day.view, Picture: day.picture})
		in.Entries = append(in.Entries, day.entries...)
	}
	began := time.Now()
	drawmap := func(o Options) (*canvas.Canvas, error) { return Map(in, o) }
	save(t, "map", drawmap)
	save(t, "map-phone", narrow(drawmap))
	t.Log("three maps twice", time.Since(began))
	in.Woven = true
	drawWoven := func(o Options) (*canvas.Canvas, error) { return Map(in, o) }
	save(t, "map-woven", drawWoven)
	save(t, "map-woven-phone", narrow(drawWoven))
	t.Log("and woven", time.Since(began))
}
