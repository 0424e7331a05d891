package main

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
)

func TestDemo(t *testing.T) {
	if testing.Short() {
		t.Skip("paints a month of pictures: some ten seconds")
	}
	newCatalogue(t)
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	const folder = "limbwatch-demo" // as it is called when no name is given
	before := time.Now()
	got := limbwatch(t, "", "demo")
	t.Logf("demo: %s", time.Since(before).Round(time.Millisecond))
	require.Equal(t, exitDone, got.code, got.stderr)
	catalogue := []string{"--catalog", filepath.Join(folder, "catalogue.db")}

	t.Run("what it promises is there", func(t *testing.T) {
		frames := asJSON[[]object](t, append([]string{"frame", "list"}, catalogue...)...)
		days, mirrored := map[string]bool{}, 0
		for _, f := range frames {
			days[f.text(t, "utc")[:10]] = true
			assert.FileExists(t, f.text(t, "path"))
			if n, ok := f["north"].(map[string]any); ok && n["mirrored"] == true {
				mirrored++
			}
		}
		assert.GreaterOrEqual(t, len(days), 16, "days with a picture")
		assert.Greater(t, mirrored, 3)
		assert.Less(t, mirrored, len(frames)-3)
		assert.Len(t, asJSON[[]object](t, append([]string{"instrument", "list"}, catalogue...)...), 2, "single and double stack")
		first, err := time.Parse(time.RFC3339, frames[0].text(t, "utc"))
		require.NoError(t, err)
		last, err := time.Parse(time.RFC3339, frames[len(frames)-1].text(t, "utc"))
		require.NoError(t, err)
		assert.Greater(t, int(last.Sub(first).Hours()/24), len(days), "there are days of cloud")
	})

	t.Run("its errors against the painter are true", func(t *testing.T) {
		// kind, marks, median miss, 95 % below, median quoted error, inside the 95 % ellipse
		row := regexp.MustCompile(`(?m)^  (sunspot|plage|filament) +(\d+) +([\d.]+)° +([\d.]+)° +([\d.]+)° +(\d+) %`)
		found := row.FindAllStringSubmatch(got.stdout, -1)
		require.Len(t, found, 3, got.stdout)
		for _, m := range found {
			number := func(i int) float64 { v, err := strconv.ParseFloat(m[i], 64); require.NoError(t, err); return v }
			assert.Less(t, number(3), 1.0, "%s: median miss in degrees", m[1])
			// Of some 20 to 80 marks 95 in 100 should lie inside; fewer than 85 would be
			// three standard deviations short for the smallest of these.
			assert.GreaterOrEqual(t, number(6), 85.0, "%s: painted place inside the 95 %% ellipse", m[1])
			assert.Less(t, number(5), 4*number(3)+0.2, "%s: errors are not blown up", m[1])
		}
	})

	t.Run("what it says to try next works", func(t *testing.T) {
		_, next, ok := strings.Cut(got.stdout, "Try next:")
		require.True(t, ok)
		tried := 0
		for line := range strings.Lines(next) {
			line, _, _ = strings.Cut(strings.TrimSpace(line), "   ")
			words := strings.Fields(line)
			if len(words) < 2 || words[0] != "limbwatch" || words[1] == "desk" {
				continue
			}
			for i, w := range words {
				if w == "--out" {
					words[i+1] = filepath.Join(t.TempDir(), "out")
				}
			}
			done(t, words[1:]...)
			tried++
		}
		assert.GreaterOrEqual(t, tried, 3)
	})

	t.Run("the README's worked day meets what was painted", func(t *testing.T) {
		newCatalogue(t)
		for _, line := range workedDay(t, string(readme)) {
			if line != "limbwatch demo" {
				done(t, shellWords(t, line)[1:]...)
			}
		}
		painted := asJSON[[]object](t, append([]string{"log"}, catalogue...)...)
		marks := asJSON[[]object](t, "log")
		assert.GreaterOrEqual(t, len(marks), 6)
		for _, m := range marks {
			assert.Lessf(t, nearestMiss(t, m, painted), 2.0, "degrees from the demo's own %s of that picture: %v", m["kind"], m["mark"])
		}
	})

	t.Run("a folder that is there is left alone", func(t *testing.T) {
		left, err := os.ReadDir(folder)
		require.NoError(t, err)
		refused(t, exitFailed, "is there already", "demo", "--folder", folder)
		now, err := os.ReadDir(folder)
		require.NoError(t, err)
		assert.Len(t, now, len(left))
		assert.NoFileExists(t, os.Getenv("LIMBWATCH_CATALOG"), "the demo has a catalogue of its own")
	})
}

// workedDay lists the commands of the README's worked day.
func workedDay(t *testing.T, readme string) (lines []string) {
	t.Helper()
	blocks := strings.Split(readme, "```sh worked-day\n")[1:]
	for _, block := range blocks {
		block, _, ok := strings.Cut(block, "```")
		require.True(t, ok)
		lines = append(lines, strings.Split(strings.TrimSpace(block), "\n")...)
	}
	require.Greater(t, len(lines), 20)
	require.Equal(t, "limbwatch demo", lines[0])
	return lines
}

// nearestMiss is how far a mark lies from the nearest one of its kind at the same instant, in
// degrees: on the Sun, or at the edge in position angle.
func nearestMiss(t *testing.T, m object, others []object) float64 {
	t.Helper()
	nearest := math.Inf(1)
	for _, o := range others {
		if o["kind"] != m["kind"] || o["utc"] != m["utc"] {
			continue
		}
		miss := math.Abs((coords.Angle(m.number(t, "pa_deg")-o.number(t, "pa_deg")) * coords.Degree).Wrap180().Degrees())
		if m["kind"] != "prominence" {
			dLon := (coords.Angle(m.number(t, "lon_deg")-o.number(t, "lon_deg")) * coords.Degree).Wrap180().Degrees()
			lat := coords.Angle(m.number(t, "lat_deg")) * coords.Degree
			miss = math.Hypot(m.number(t, "lat_deg")-o.number(t, "lat_deg"), dLon*lat.Cos())
		}
		nearest = min(nearest, miss)
	}
	return nearest
}
