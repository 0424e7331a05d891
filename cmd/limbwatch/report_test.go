package main

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// inCatalogue runs command lines on a catalogue of the test's own; each must succeed.
func inCatalogue(t *testing.T, path string, lines ...[]string) (last said) {
	t.Helper()
	for _, line := range lines {
		last = limbwatch(t, "", append([]string{"--catalog", path}, line...)...)
		require.Equal(t, exitDone, last.code, "%v: %s", line, last.stderr)
	}
	return last
}

// marchOnPaper is a catalogue with a few days of an observer who draws and counts.
func marchOnPaper(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "catalogue.db")
	inCatalogue(t, path,
		[]string{"observer", "add", "Wren Holloway"},
		[]string{"site", "add", "Pell Garden", "--lat", "50.91", "--lon", "-2.13", "--zone", "Europe/London"},
		[]string{"log", "day", "2026-03-14", "--groups", "N2,S1", "--spots", "N11,S3", "--seeing", "2 Kiepenheuer steadiness", "--at", "09:12Z"},
		[]string{"log", "day", "2026-03-15", "--groups", "0", "--spots", "0", "--filaments", "4"},
	)
	positions := filepath.Join(t.TempDir(), "positions.csv")
	require.NoError(t, os.WriteFile(positions, []byte("kind,utc,lat_deg,lon_deg,pa_deg,height_mm,label\n"+
		"filament,2026-03-14T09:12:00Z,31.5,60.25,,,=1+1\nprominence,2026-03-14T09:12:00Z,,,75,30,1-2\n"), 0o644))
	inCatalogue(t, path, []string{"import", "positions", positions})
	return path
}

func TestLogDay(t *testing.T) {
	path := marchOnPaper(t)
	got := inCatalogue(t, path, []string{"log", "day", "2026-03-14", "--spots", "15", "--groups", "", "--json"})
	assert.Contains(t, got.stdout, `"total": 15`)
	assert.Contains(t, got.stdout, `"north": null`)
	assert.NotContains(t, got.stdout, "groups")
	inCatalogue(t, path, []string{"undo"})
	got = inCatalogue(t, path, []string{"log", "day", "2026-03-14", "--plages", "N1"})
	assert.Equal(t, "S1 2026-03-14  groups N2,S1  spots N11,S3  plages N1,S0\n", got.stdout)

	for _, c := range []struct{ line, want string }{
		{"log day 14.3.2026 --groups 1", "want a UT day, as in 2026-03-14"},
		{"log day 2026-03-14", "a day without counts"},
		{"log day 2026-03-14 --groups many", "want N2,S1"},
		{"log day 2026-03-14 --groups 1 --at 09:12", "want UT with its Z"},
		{"log day 2026-03-14 --groups 1 --seeing 2", "has no scale"},
	} {
		got := limbwatch(t, "", append([]string{"--catalog", path}, strings.Fields(c.line)...)...)
		assert.Equal(t, exitMisused, got.code, c.line)
		assert.Contains(t, got.stderr, c.want)
	}
}

func TestReportOfAMonthOnPaper(t *testing.T) {
	path := marchOnPaper(t)
	out := filepath.Join(t.TempDir(), "reports")
	words := filepath.Join(t.TempDir(), "words.txt")
	require.NoError(t, os.WriteFile(words, []byte("Two clear mornings."), 0o644))
	got := inCatalogue(t, path, []string{"log", "report", "--month", "2026-03", "--out", out, "--words", words})
	assert.Equal(t, len(reportFormats), strings.Count(got.stdout, "sun-2026-03."))
	page, err := os.ReadFile(filepath.Join(out, "sun-2026-03.html"))
	require.NoError(t, err)
	assert.Contains(t, string(page), "Two clear mornings.")
	assert.Contains(t, string(page), "2 Kiepenheuer steadiness")
	assert.Contains(t, string(page), "Never look at the Sun through a telescope")
	text, err := os.ReadFile(filepath.Join(out, "sun-2026-03.md"))
	require.NoError(t, err)
	assert.Contains(t, string(text), "| 14 Mar | 2 | 1 | 3 | 11 | 3 | 14 | 44 |")
	assert.Contains(t, string(text), "| 15 Mar | 0 | 0 | 0 | 0 | 0 | 0 | 0 |  |  | 4 |")
	pdf, err := os.ReadFile(filepath.Join(out, "sun-2026-03.pdf"))
	require.NoError(t, err)
	assert.True(t, bytes.HasPrefix(pdf, []byte("%PDF-")))

	// Nothing is written over unasked, and then not a part of it either.
	require.NoError(t, os.Remove(filepath.Join(out, "sun-2026-03.csv")))
	again := limbwatch(t, "", "--catalog", path, "log", "report", "--month", "2026-03", "--out", out)
	assert.Equal(t, exitFailed, again.code)
	assert.Contains(t, again.stderr, "is there already")
	assert.NoFileExists(t, filepath.Join(out, "sun-2026-03.csv"))
	inCatalogue(t, path, []string{"log", "report", "--month", "2026-03", "--out", out, "--force"})
	assert.FileExists(t, filepath.Join(out, "sun-2026-03.csv"))
}

func TestReportsThatCannotBe(t *testing.T) {
	path := filepath.Join(emptyCatalogue(t), "catalogue.db")
	for line, want := range map[string]string{
		"log report":               "a report of when?",
		"log report --month March": "want it as 2026-03",
		"log report --from 2026-03-02 --to 2026-03-01": "is after",
		"log report --from 2020-03-02 --to 2026-03-01": "at most 400",
		"log report --rotation 9999":                   "want 1 to 5000",
		"log report --month 2026-03 --out x.docx":      "ends in .html",
		"log report --month 2026-03 --formats odt":     `"odt"`,
		"log report --month 2026-03 --paper foolscap":  "want A4 or Letter",
		"log report --month 2026-03 --k 0":             "more than 0",
		"export marks x.ods":                           ".csv, .ecsv or .vot",
		"import record x.jsonl --prefer hers":          "refuse, mine or theirs",
	} {
		got := limbwatch(t, "", append([]string{"--catalog", path}, strings.Fields(line)...)...)
		assert.Equal(t, exitMisused, got.code, "%s: %s", line, got.stderr)
		assert.Contains(t, got.stderr, want, line)
	}
	assert.NoFileExists(t, "x.docx")
}

// The CSV carries positions (of prominences position angle and height), and labels
// that a spreadsheet would take for something else.
func TestMarksReadBackAsPositions(t *testing.T) {
	path, again := marchOnPaper(t), filepath.Join(t.TempDir(), "again.db")
	file := filepath.Join(t.TempDir(), "marks.csv")
	inCatalogue(t, path, []string{"export", "marks", file})
	rows := readCSV(t, file)
	require.Len(t, rows, 3)
	inCatalogue(t, again, []string{"import", "positions", file})
	second := filepath.Join(t.TempDir(), "second.csv")
	inCatalogue(t, again, []string{"export", "marks", second})
	back := readCSV(t, second)
	require.Len(t, back, 3)
	for i := range rows {
		for j, name := range rows[0] {
			if name == "uuid" || name == "frame" || name == "mark" {
				continue
			}
			want, err := strconv.ParseFloat(rows[i][j], 64)
			if err != nil {
				assert.Equal(t, rows[i][j], back[i][j], name)
				continue
			}
			got, err := strconv.ParseFloat(back[i][j], 64)
			require.NoError(t, err, name)
			assert.InDelta(t, want, got, 1e-9, name)
		}
	}
	assert.Equal(t, exitFailed, limbwatch(t, "", "--catalog", path, "export", "marks", file).code)
}

func readCSV(t *testing.T, path string) [][]string {
	t.Helper()
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	return rows
}

func TestARecordGoesToAnotherCatalogueAndBack(t *testing.T) {
	path, again := marchOnPaper(t), filepath.Join(t.TempDir(), "again.db")
	file, second := filepath.Join(t.TempDir(), "record.jsonl"), filepath.Join(t.TempDir(), "second.jsonl")
	inCatalogue(t, path, []string{"export", "record", file})
	dry := inCatalogue(t, again, []string{"import", "record", file, "--dry-run"})
	assert.Contains(t, dry.stdout, "dry run: nothing was kept")
	inCatalogue(t, again, []string{"import", "record", file}, []string{"export", "record", second})
	assert.Equal(t, withoutHead(t, file), withoutHead(t, second))

	inCatalogue(t, again, []string{"log", "day", "2026-03-14", "--spots", "99"}, []string{"log", "day", "2026-03-20", "--spots", "1"})
	got := limbwatch(t, "", "--catalog", again, "import", "record", file)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.stderr, `count C2 "spots": north is nothing here and 11 there`)
	assert.Contains(t, got.stderr, "--prefer mine or --prefer theirs")
	merged := inCatalogue(t, again, []string{"import", "record", file, "--prefer", "theirs", "--json"})
	assert.Contains(t, merged.stdout, `"changed": 1`)
}

func withoutHead(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	_, rest, found := strings.Cut(string(data), "\n")
	require.True(t, found)
	return rest
}
