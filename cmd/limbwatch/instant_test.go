package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The ways into the program on which a time is written by somebody, each with what it
// answers. (Pictures' own times are read by package capture.)
func timeDoors(t *testing.T, folder string) map[string]func(written string) said {
	t.Helper()
	file := func(name, text string) string {
		path := filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		return path
	}
	record := func(written string) string {
		return `{"noun":"record","version":2}` + "\n" + `{"noun":"frame","uuid":"0197c0de-0000-7000-8000-000000000002","taken_utc":"` + written + `"}` + "\n"
	}
	return map[string]func(string) said{
		"sun --at":    func(w string) said { return limbwatch(t, "", "sun", "--json", "--at", w) },
		"sun --times": func(w string) said { return limbwatch(t, w+"\n", "sun", "--times", "-") },
		"place --at": func(w string) said {
			return limbwatch(t, "", "place", "--json", "--at", w, "--disc", "600,600,500", "--north", "0", "600,600")
		},
		"place, a table": func(w string) said { return limbwatch(t, "utc,pa_deg,r\n"+w+",90,0.5\n", "place") },
		"mark add --at": func(w string) said {
			return limbwatch(t, "", "mark", "add", "sunspot", "--json", "--at", w, "--place", "N08E14")
		},
		"import positions": func(w string) said {
			return limbwatch(t, "", "import", "positions", "--dry-run", file("p.csv", "kind,utc,lat_deg,cmd_deg\nsunspot,"+w+",8,-14\n"))
		},
		"import record": func(w string) said {
			return limbwatch(t, "", "import", "record", "--dry-run", file("r.jsonl", record(w)))
		},
		"log --from":  func(w string) said { return limbwatch(t, "", "log", "--from", w) },
		"expect --at": func(w string) said { return limbwatch(t, "", "expect", "--at", w) },
		"log day --at": func(w string) said {
			day, clock, _ := strings.Cut(w, "T")
			return limbwatch(t, "", "log", "day", day, "--at", clock, "--spots", "3")
		},
	}
}

// A second 60 is accepted where a leap second was and refused where none was (IERS
// Bulletins C 52 and 56), 24:00:00 is the end of its day, and what is no zone is refused: alike on all ways in.
func TestTimesAreReadWholeOnAllWaysIn(t *testing.T) {
	folder := newCatalogue(t)
	done(t, "observer", "add", "R. Vane") // the ways come in any order, and some want a catalogue
	for door, say := range timeDoors(t, folder) {
		for _, good := range []string{"2016-12-31T23:59:60Z", "2016-12-31T23:59:59Z", "1905-05-01T24:00:00Z"} {
			got := say(good)
			assert.Equalf(t, exitDone, got.code, "%s %s: %s", door, good, got.stderr)
		}
		for _, bad := range []string{"2018-12-31T23:59:60Z", "2016-12-31T23:58:60Z", "2016-12-31T23:59:59 PST", "2016-12-31T23:59:59Zulu", "2016-12-31T23:59:59Z garbage",
			"2016-12-31T23:59:59+25:00", "2016-12-31T23:59:61Z", "2016-12-31T24:00:01Z", "2016-12-31T24:30:00Z", "2016-12-31T25:00:00Z", "2016-12-32T00:00:00Z", "2016-12-31T23:59:59.5.5Z"} {
			got := say(bad)
			assert.NotEqualf(t, exitDone, got.code, "%s takes %s", door, bad)
			_, clock, _ := strings.Cut(bad, "T")
			assert.Truef(t, strings.Contains(got.stderr, bad[:10]) || strings.Contains(got.stderr, clock), "%s: the error names %q: %s", door, bad, got.stderr)
		}
	}
	sun := asJSON[object](t, "sun", "--at", "2016-12-31T23:59:60Z")
	assert.Equal(t, "2017-01-01T00:00:00Z", sun["utc"])
	end := asJSON[[]object](t, "log", "--from", "1905-05-01", "--to", "1905-05-01")
	assert.Len(t, end, 1, "24:00:00 is the end of its day (ISO 8601), and counts in it")
}

// Times of pictures, by a picture of each kind of source, end to end.
func TestTheTimeOfAPictureIsReadWhole(t *testing.T) {
	folder := newCatalogue(t)
	done(t, "site", "add", "Pell Garden", "--lat", "50.91", "--lon", "-2.13", "--zone", "Europe/London")
	n := 0
	header := func(cards ...string) string {
		n++
		path := filepath.Join(folder, fmt.Sprintf("sun-%d.fits", n))
		var b strings.Builder
		for _, c := range append([]string{"SIMPLE  =                    T", "BITPIX  =                    8", "NAXIS   =                    2", "NAXIS1  =                   64", "NAXIS2  =                   64"}, append(cards, "END")...) {
			fmt.Fprintf(&b, "%-80s", c)
		}
		head := b.String()
		pixels := make([]byte, 64*64)
		pixels[0] = byte(n) // no two alike
		blocks := func(text string, fill string) string {
			return text + strings.Repeat(fill, (2880-len(text)%2880)%2880)
		}
		require.NoError(t, os.WriteFile(path, []byte(blocks(head, " ")+blocks(string(pixels), "\x00")), 0o644))
		return path
	}
	for _, tail := range []string{" local", " CEST", "garbage", "+25:00"} {
		refused(t, exitFailed, strings.TrimSpace(tail), "frame", "add", header("DATE-OBS= '2024-05-12T09:15:03"+tail+"'"))
	}
	refused(t, exitFailed, `TIMESYS "LOCAL" is not read`, "frame", "add", header("DATE-OBS= '2024-05-12T09:15:03'", "TIMESYS = 'LOCAL'"))
	got := asJSON[[]object](t, "frame", "add", header("DATE-OBS= '2024-05-12T09:15:03'"))
	assert.Equal(t, "2024-05-12T09:15:03Z", got[0]["taken_utc"], "FITS is UTC by standard")

	beside := header()
	require.NoError(t, os.WriteFile(strings.TrimSuffix(beside, ".fits")+".txt", []byte("Start=2024-05-12 09:15:03 PST\n"), 0o644))
	refused(t, exitFailed, "PST", "frame", "add", beside)
	for _, tail := range []string{" PST", " MESZ", "-0500"} {
		path := header()
		named := filepath.Join(folder, "2024-05-12 091503"+tail+".fits")
		require.NoError(t, os.Rename(path, named))
		refused(t, exitFailed, strings.TrimSpace(tail), "frame", "add", named)
	}
}
