package report

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/chart"
	"limbwatch/catalog/measure"
	"limbwatch/coords"
	"limbwatch/coords/picture"
)

func written(t testing.TB, write func(*bytes.Buffer) error) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, write(&b))
	return b.String()
}

func TestThePageNeedsNoOtherFileAndRunsNothing(t *testing.T) {
	in := aMonth(t, 6)
	in.Words = `<script>alert("x")</script> & 5 < 6`
	in.Sittings[0].Note = "<img src=x onerror=alert(1)>"
	doc, err := New(in)
	require.NoError(t, err)
	page := written(t, func(b *bytes.Buffer) error { return WriteHTML(b, doc) })
	assert.NotContains(t, page, "<script")
	assert.NotContains(t, page, "<img")
	assert.Contains(t, page, "&lt;script&gt;")
	for _, m := range regexp.MustCompile(`<[a-z][^<>]*\s(?:src|href)="([^"]*)"`).FindAllStringSubmatch(page, -1) {
		assert.Regexp(t, `^(#|data:)`, m[1], "the page asks for nothing")
	}
	assert.Contains(t, page, "@page")
	assert.NotRegexp(t, `url\(["']?[^#"')]`, page)
	assert.Equal(t, 6, strings.Count(page, " UT · seeing "), "a disc a day")
	// Every heading that the contents lead to is there.
	for _, m := range regexp.MustCompile(`href="#(s\d+)"`).FindAllStringSubmatch(page, -1) {
		assert.Contains(t, page, `id="`+m[1]+`"`)
	}
}

func TestThePDFHasItsSigns(t *testing.T) {
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("NOT CHECKED: pdftotext (poppler-utils) is not there to read the PDF with")
	}
	doc, err := New(aMonth(t, 3))
	require.NoError(t, err)
	for _, paper := range []Paper{A4, Letter} {
		path := filepath.Join(t.TempDir(), "report.pdf")
		require.NoError(t, os.WriteFile(path, []byte(written(t, func(b *bytes.Buffer) error { return WritePDF(b, doc, paper) })), 0o644))
		text, err := exec.Command(tool, "-layout", path, "-").Output()
		require.NoError(t, err)
		for _, want := range []string{"Hα, B₀ −7.2°, ⊙ and ångström (Å)", "Wren Holloway (WH)", "Hα 6562.8 Å, passband 0.5 Å, double stack",
			"not the white-light number", "Carrington rotation 2308", "observed on 3 days of 31", "− 1.40 sin² B"} {
			assert.Contains(t, strings.Join(strings.Fields(string(text)), " "), want, paper.String())
		}
	}
}

func TestTheSameReportIsTheSameFile(t *testing.T) {
	in := aMonth(t, 4)
	var pages, texts []string
	for range 2 {
		doc, err := New(in)
		require.NoError(t, err)
		pages = append(pages, written(t, func(b *bytes.Buffer) error { return WriteHTML(b, doc) }))
		texts = append(texts, written(t, func(b *bytes.Buffer) error { return WriteMarkdown(b, doc) }))
	}
	assert.Equal(t, pages[0], pages[1])
	assert.Equal(t, texts[0], texts[1])
}

func TestAnEmptyMonth(t *testing.T) {
	doc, err := New(Input{Period: Month(firstDay), Program: "limbwatch", Made: firstDay})
	require.NoError(t, err)
	text := written(t, func(b *bytes.Buffer) error { return WriteMarkdown(b, doc) })
	assert.Contains(t, text, "observed on 0 days of 31")
	assert.Contains(t, text, "No filament was marked.")
	assert.NotContains(t, text, "NaN")
	written(t, func(b *bytes.Buffer) error { return WritePDF(b, doc, Letter) })
	written(t, func(b *bytes.Buffer) error { return WriteHTML(b, doc) })
}

func TestMarkdownTakesNothingForMarkup(t *testing.T) {
	in := aMonth(t, 2)
	in.Sittings[0].Note = "a|b *c* <b>"
	doc, err := New(in)
	require.NoError(t, err)
	text := written(t, func(b *bytes.Buffer) error { return WriteMarkdown(b, doc) })
	assert.Contains(t, text, `a\|b \*c\* &lt;b>`)
	for _, row := range strings.Split(text, "\n") {
		if strings.HasPrefix(row, "| 1") {
			assert.Contains(t, []int{19, 8, 7, 6}, strings.Count(strings.ReplaceAll(row, `\|`, ""), "|"), row)
		}
	}
}

// What a filament's passage says: when it crossed the disc, as it was told, to the hour
// and with its error; and how long it was: 4° by 7°, at cos 15° to cos 55°, are 5.5 to
// 7.8°, of 12.14 Mm each (IAU 2015 resolution B3: a radius of 695.7 Mm).
func TestAFilamentsPassage(t *testing.T) {
	c := newComposer(aMonth(t, 24))
	at := time.Date(2026, 3, 9, 10, 31, 0, 0, time.UTC)
	c.Crossings = map[catalog.MarkID]Crossing{}
	for _, e := range c.Entries {
		c.Crossings[e.Mark.ID] = Crossing{East: chart.Moment{UTC: at, Sigma: 5 * time.Hour}, West: chart.Moment{UTC: at, Sigma: 40 * time.Hour}}
	}
	s := c.filaments()
	column := map[string]int{}
	for i, head := range s.Blocks[0].Table.Columns {
		column[head.Head] = i
	}
	rows := s.Blocks[0].Table.Rows
	require.NotEmpty(t, rows)
	assert.NotContains(t, column, "meridian", "nothing is known of it")
	for _, r := range rows {
		assert.Equal(t, "9 Mar 11h ±5h", strings.ReplaceAll(r.Cells[column["east limb"]], noBreak, " "))
		assert.Equal(t, "9 Mar ±1.7d", strings.ReplaceAll(r.Cells[column["west limb"]], noBreak, " "))
		length, err := strconv.ParseFloat(strings.Fields(r.Cells[column["length, Mm"]])[0], 64)
		require.NoError(t, err)
		assert.InDelta(t, 81, length, 16)
		if r.Cells[column["days"]] != "1" {
			assert.NotEmpty(t, r.Below)
		}
	}
	assert.Contains(t, s.Blocks[1].Small, "(14.42 − 1.40 sin² B − 1.33 sin⁴ B degrees a day; no source that could be read)",
		"what is from memory is not printed as a source")
}

// The same record, made at the same time, gives the same file to the last byte.
func TestFilesAreTheSameTwice(t *testing.T) {
	for name, write := range map[string]func(*bytes.Buffer, Document) error{
		"html": func(b *bytes.Buffer, d Document) error { return WriteHTML(b, d) },
		"pdf":  func(b *bytes.Buffer, d Document) error { return WritePDF(b, d, A4) },
	} {
		var first string
		for range 3 {
			in := aMonth(t, 4)
			disc := plainDisc(t, 200)
			in.Picture = func(catalog.FrameID) (*picture.Picture, error) { return disc, nil }
			doc, err := New(in)
			require.NoError(t, err)
			again := written(t, func(b *bytes.Buffer) error { return write(b, doc) })
			if first == "" {
				first = again
			}
			assert.True(t, first == again, name)
		}
	}
}

// What was marked or counted was looked for, whatever the sitting says of it: the list
// of the days and the daily counts say the same.
func TestWhatWasMarkedWasLookedFor(t *testing.T) {
	in := oneDay(map[catalog.Kind]catalog.Look{catalog.Filament: catalog.NoneSeen, catalog.Sunspot: catalog.NoneSeen}, prominence(1, 1, 10, 14, 40), spot(2, 1, 10, 20, catalog.SingleSpot, 0))
	in.Counts = []catalog.Count{{Sitting: 1, Tally: catalog.TallyPlages}}
	c := newComposer(in)
	assert.Equal(t, "sunspots, plages (none), filaments (none), prominences", c.lookedText(c.days[0], c.days[0].Sittings[0]))
	for _, kind := range []catalog.Kind{catalog.Sunspot, catalog.Filament, catalog.Prominence} {
		assert.True(t, c.days[0].Looked(kind), kind)
	}
	in.Sittings = nil
	in.Entries[0].Frame.Sitting, in.Entries[1].Frame.Sitting, in.Counts = 0, 0, nil
	c = newComposer(in)
	rows := c.observed().Blocks[0].Table.Rows
	require.Len(t, rows, 1, "a day with marks is observed, of a sitting or not")
	assert.Contains(t, rows[0].Cells, "sunspots, prominences")
}

// What lies between the photospheric limb and the picture's own has a place at its
// height only (catalog.Position).
func TestAFilamentBetweenTheLimbsIsListed(t *testing.T) {
	in := oneDay(nil)
	in.Period.To = date.AddDate(0, 0, 2)
	for i, cmd := range []float64{70, 84} {
		at := date.Add(time.Duration(10+24*i) * time.Hour)
		e := catalog.Entry{PassageName: "F1", Join: &catalog.Join{Passage: 1, State: catalog.Made}, Frame: catalog.Frame{ID: catalog.FrameID(i + 1)},
			Mark: catalog.Mark{ID: catalog.MarkID(i + 1), Frame: catalog.FrameID(i + 1), Kind: catalog.Filament}}
		e.Position = catalog.Position{Mark: e.Mark.ID, UTC: at, High: &catalog.AtHeight{CMD: coords.Angle(cmd) * deg}, Edge: &catalog.AtEdge{WithinLimb: true}}
		in.Entries = append(in.Entries, e)
	}
	rows := newComposer(in).filaments().Blocks[0].Table.Rows
	require.Len(t, rows, 1)
	assert.Contains(t, rows[0].Below, "W70.0")
	assert.Contains(t, rows[0].Below, "W84.0")
}

// East and west limb are those of the Sun's axis, which in mid-March leans 24° to the
// west (P −24°, Meeus, Astronomical Algorithms, ch. 29: between −26.3° and 26.3°).
func TestTheLimbIsThatOfTheSunsAxis(t *testing.T) {
	for pa, limb := range map[float64]string{346: "E", 90: "E", 146: "E", 166: "W", 270: "W", 326: "W"} {
		assert.Equal(t, limb, limbOf(date, coords.Angle(pa)*deg), "position angle %g°", pa)
	}
}

func TestAProminenceIsFoundToBeAFilament(t *testing.T) {
	odds, follows := 0.83, 0.99
	in := Input{Passages: []catalog.Passage{{ID: 1, Name: "F1", Kind: catalog.Filament}, {ID: 2, Name: "P2", Kind: catalog.Prominence}, {ID: 3, Name: "F3", Kind: catalog.Filament}},
		Joins: []catalog.Join{{Mark: 7, Passage: 2, State: catalog.Made}}}
	s := catalog.Sighting{Entries: []catalog.Entry{{Mark: catalog.Mark{ID: 7}, Join: &in.Joins[0]}}}
	c := composer{Input: in}
	assert.Empty(t, c.foundToBe(s))

	c.Links = []catalog.Link{{From: 1, To: 2, State: catalog.Proposed, By: catalog.ByProgram, Odds: &odds}}
	assert.Equal(t, "F1, 83 %", c.foundToBe(s))
	c.Matches = []Match{{Mark: 7, Passage: 3, Odds: 0.9972, By: catalog.ByProgram}, {Mark: 8, Passage: 1, Odds: 1}}
	assert.Equal(t, "F3, > 99 %, not joined to it; F1, 83 %", c.foundToBe(s), "not rounded to certainty; the likelier first")
	c.Joins = append(c.Joins, catalog.Join{Mark: 7, Passage: 3, State: catalog.Refused, By: catalog.ByObserver})
	assert.Equal(t, "F1, 83 %", c.foundToBe(s))
	c.Joins[0] = catalog.Join{Mark: 7, Passage: 1, State: catalog.Made, By: catalog.ByObserver}
	assert.Equal(t, "F1, said", c.foundToBe(s))

	// The join of its marks and the check at the limb make one statement, in which no
	// odds of the join stand beside those of the check.
	c = composer{Input: in}
	c.Matches = []Match{{Mark: 7, Passage: 3, Odds: 0.72, By: catalog.ByProgram}, {Mark: 7, Passage: 1, Odds: 0.26, By: catalog.ByProgram}}
	assert.Equal(t, "F3, 72 %, not joined to it; F1, 26 %", c.foundToBe(s), "kept under a passage of its own")
	join := catalog.Join{Mark: 7, State: catalog.Made, By: catalog.ByProgram, Odds: &follows}
	join.Passage = 3
	c.Joins = []catalog.Join{join}
	assert.Equal(t, "F3, 72 %; F1, 26 %", c.foundToBe(s))
	join.Passage = 1
	c.Joins = []catalog.Join{join}
	assert.Equal(t, "F3, 72 %; F1, 26 %; in doubt", c.foundToBe(s))
	c.Matches = c.Matches[:1]
	assert.Equal(t, "F3, 72 %; not borne out: F1, < 1 %", c.foundToBe(s))
	c.Matches = nil
	assert.Equal(t, "F1, not weighed", c.foundToBe(s))
}

// marksOf measures the marks of a record.
func marksOf(in Input) (marks []measure.Marked) {
	c := newComposer(in)
	for _, e := range in.Entries {
		marks = append(marks, c.measured(e))
	}
	return marks
}

func TestMarksAsTables(t *testing.T) {
	in := aMonth(t, 5)
	in.Entries[0].Mark.Label, in.Entries[0].Mark.Note, in.Entries[1].Mark.Label = "=1+1", "two\nlines, \"quoted\" & <b>", "1-2"
	rows, err := csv.NewReader(strings.NewReader(written(t, func(b *bytes.Buffer) error { return WriteCSV(b, marksOf(in)) }))).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, len(in.Entries)+1)
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	assert.Equal(t, "'=1+1", rows[1][column["label"]])
	assert.Equal(t, "'1-2", rows[2][column["label"]])
	for i, e := range in.Entries {
		row := rows[i+1]
		if d := e.Position.Disc; d != nil {
			lat, err := strconv.ParseFloat(row[column["lat_deg"]], 64)
			require.NoError(t, err)
			assert.Equal(t, d.B.Degrees(), lat, "to the last digit")
			assert.Empty(t, row[column["height_km"]])
		} else {
			assert.Empty(t, row[column["lat_deg"]], "no place is no number")
			assert.Equal(t, "30000", row[column["height_km"]])
		}
		utc, err := time.Parse(time.RFC3339, row[column["utc"]])
		require.NoError(t, err)
		assert.WithinDuration(t, e.Position.UTC, utc, time.Millisecond)
	}

	var parsed voTable
	vot := written(t, func(b *bytes.Buffer) error { return WriteVOTable(b, marksOf(in), OriginOf(in)) })
	require.NoError(t, xml.Unmarshal([]byte(vot), &parsed))
	fields := parsed.Resource.Table.Fields
	require.Len(t, parsed.Resource.Table.Data.Table.Rows, len(in.Entries))
	for _, f := range fields {
		if strings.HasSuffix(f.Name, "_deg") {
			assert.Equal(t, "deg", f.Unit, f.Name)
		}
		assert.NotEmpty(t, f.Description, f.Name)
		assert.Contains(t, MarkColumns(), f.Name)
	}
	ecsv := written(t, func(b *bytes.Buffer) error { return WriteECSV(b, marksOf(in), OriginOf(in)) })
	assert.True(t, strings.HasPrefix(ecsv, "# %ECSV 1.0\n# ---\n"))
	assert.Contains(t, ecsv, `"two lines, ""quoted"" & <b>"`)
}

// A month of 31 days and some 300 marks.
func BenchmarkReport(b *testing.B) {
	in := aMonth(b, 31)
	b.Logf("%d marks", len(in.Entries))
	for b.Loop() {
		doc, err := New(in)
		require.NoError(b, err)
		written(b, func(w *bytes.Buffer) error { return WriteHTML(w, doc) })
		written(b, func(w *bytes.Buffer) error { return WritePDF(w, doc, A4) })
	}
}

// Carrington counts rotations from November 1853; what was seen before, as old drawings
// tell it, is reported without a map of the rotation.
func TestReportOfDaysBeforeTheFirstRotation(t *testing.T) {
	day := time.Date(1750, 1, 5, 0, 0, 0, 0, time.UTC)
	doc, err := New(Input{Period: Month(day), Sittings: []Sitting{{Sitting: catalog.Sitting{ID: 1, Day: day,
		Looked: map[catalog.Kind]catalog.Look{catalog.Sunspot: catalog.NoneSeen}}}}})
	require.NoError(t, err)
	for _, s := range doc.Sections {
		assert.NotContains(t, s.Title, "unrolled")
	}
}

// What reads 0 has no letter of the south or the east.
func TestAnglesThatRoundToNothing(t *testing.T) {
	const deg = coords.Degree
	assert.Equal(t, []string{"N00.0", "N00", "S00.1", "W00.0", "E03.0", "000.0"},
		[]string{latitude(-0.04*deg, 1), latitude(-0.4*deg, 0), latitude(-0.06*deg, 1), meridianDistance(-0.01*deg, 1), meridianDistance(-3*deg, 1), longitude(359.97*deg, 1)})
}

// Whatever people write in notes and names, the PDF is written: the library fails on
// signs beyond the first 65536.
func TestPDFOfEmojiAndOtherScripts(t *testing.T) {
	const odd = "🌞 \u2600\ufe0f 👩\u200d🔬 山田 Привет \xff"
	in := aMonth(t, 2)
	in.Words = odd
	for i := range in.Sittings {
		in.Sittings[i].Note = odd
		in.Sittings[i].Observer.Name = odd
	}
	for i := range in.Entries {
		in.Entries[i].Mark.Label, in.Entries[i].Mark.Note = odd, odd
	}
	doc, err := New(in)
	require.NoError(t, err)
	assert.NotEmpty(t, written(t, func(b *bytes.Buffer) error { return WritePDF(b, doc, A4) }))
	assert.Equal(t, "\ufffd \u2600 \ufffd\ufffd 山田", printable("🌞 \u2600\ufe0f 👩\u200d🔬 山田"))
}
