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
			"not the white-light number", "Carrington rotation 2308", "observed on 3 days of 31", "ω = 14.420"} {
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

// What a filament's passage says: dates of the limbs a quarter turn either side of the
// meridian, at the synodic rate of some 13° a day.
func TestAFilamentsPassage(t *testing.T) {
	c := composer{Input: aMonth(t, 24)}
	c.days = c.Days()
	s := c.filaments()
	rows := s.Blocks[0].Table.Rows
	require.NotEmpty(t, rows)
	for _, r := range rows {
		east, err := time.Parse(dayText+noBreak+"15h", r.Cells[6])
		require.NoError(t, err)
		meridian, err := time.Parse(dayText+noBreak+"15h", r.Cells[7])
		require.NoError(t, err)
		// 90° less or more where the axis is inclined, at 12.2 to 13.4° a day.
		assert.InDelta(t, 7.1, meridian.Sub(east).Hours()/24, 1.6, r.Cells[0])
		if r.Cells[2] != "1" {
			assert.NotEmpty(t, r.Below)
		}
	}
}

func TestAProminenceIsFoundToBeAFilament(t *testing.T) {
	odds := 0.83
	in := Input{Passages: []catalog.Passage{{ID: 1, Name: "F1", Kind: catalog.Filament}, {ID: 2, Name: "P2", Kind: catalog.Prominence}, {ID: 3, Name: "F3", Kind: catalog.Filament}},
		Joins: []catalog.Join{{Mark: 7, Passage: 2, State: catalog.Made}}}
	s := catalog.Sighting{Entries: []catalog.Entry{{Mark: catalog.Mark{ID: 7}}}}
	c := composer{Input: in}
	assert.Empty(t, c.foundToBe(s))

	c.Links = []catalog.Link{{From: 1, To: 2, State: catalog.Proposed, By: catalog.ByProgram, Odds: &odds}}
	assert.Equal(t, "F1, 83 %", c.foundToBe(s))
	c.Matches = []Match{{Mark: 7, Passage: 3, Odds: 0.9972, By: catalog.ByProgram}, {Mark: 8, Passage: 1, Odds: 1}}
	assert.Equal(t, "F3, > 99 %; F1, 83 %", c.foundToBe(s), "not rounded to certainty; the likelier first")
	c.Joins = append(c.Joins, catalog.Join{Mark: 7, Passage: 3, State: catalog.Refused, By: catalog.ByObserver})
	assert.Equal(t, "F1, 83 %", c.foundToBe(s))
	c.Joins[0] = catalog.Join{Mark: 7, Passage: 1, State: catalog.Made, By: catalog.ByObserver}
	assert.Equal(t, "F1, said", c.foundToBe(s))
}

func TestMarksAsTables(t *testing.T) {
	in := aMonth(t, 5)
	in.Entries[0].Mark.Label, in.Entries[0].Mark.Note, in.Entries[1].Mark.Label = "=1+1", "two\nlines, \"quoted\" & <b>", "1-2"
	rows, err := csv.NewReader(strings.NewReader(written(t, func(b *bytes.Buffer) error { return WriteCSV(b, in.Entries) }))).ReadAll()
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
			assert.Empty(t, row[column["height_mm"]])
		} else {
			assert.Empty(t, row[column["lat_deg"]], "no place is no number")
			assert.Equal(t, "30", row[column["height_mm"]])
		}
		utc, err := time.Parse(time.RFC3339, row[column["utc"]])
		require.NoError(t, err)
		assert.WithinDuration(t, e.Position.UTC, utc, time.Millisecond)
	}

	var parsed voTable
	vot := written(t, func(b *bytes.Buffer) error { return WriteVOTable(b, in.Entries, OriginOf(in)) })
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
	ecsv := written(t, func(b *bytes.Buffer) error { return WriteECSV(b, in.Entries, OriginOf(in)) })
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
