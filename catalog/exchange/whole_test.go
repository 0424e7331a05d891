package exchange

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// small is a record of a frame, three marks (the second the same as the third), a
// passage and two joins.
func small(t testing.TB) string {
	t.Helper()
	named := func(n byte) catalog.Record { return catalog.Record{UUID: uuid.UUID{1, 6: 0x70, 8: 0x80, 15: n}} }
	mark := func(id catalog.MarkID, same catalog.MarkID) catalog.Mark {
		return catalog.Mark{ID: id, Record: named(10 + byte(id)), Frame: 1, Kind: catalog.Filament, SameAs: same, Note: "a < b & \u2028 \"c\"",
			Geometry: catalog.Geometry{Shape: catalog.Point, Pixels: []coords.Pixel{{X: 500.125, Y: 1e-7}}, SigmaClickPx: 0.5},
			MarkedAt: time.Date(2026, 3, 14, 16, 0, 0, 0, time.UTC)}
	}
	r := Record{
		Observers: []catalog.Observer{{ID: 1, Record: named(1), Name: "R. Vane"}},
		Frames:    []catalog.Frame{{ID: 1, Record: named(2), Taken: time.Date(2026, 3, 14, 15, 23, 10, 0, time.UTC), Role: catalog.RoleSurface}},
		Marks:     []catalog.Mark{mark(1, 0), mark(2, 3), mark(3, 0)},
		Passages:  []catalog.Passage{{ID: 1, Record: named(30), Name: "hook", Kind: catalog.Filament}},
		Joins: []catalog.Join{{ID: 1, Record: named(40), Mark: 1, Passage: 1, State: catalog.Made, By: catalog.ByObserver},
			{ID: 2, Record: named(41), Mark: 3, Passage: 1, State: catalog.Made, By: catalog.ByObserver}},
	}
	var out bytes.Buffer
	require.NoError(t, Write(&out, r, "limbwatch", time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)))
	return out.String()
}

func notWhole(t *testing.T, text string) string {
	t.Helper()
	_, _, err := Read(strings.NewReader(text))
	cut, ok := errors.AsType[*NotWholeError](err)
	require.Truef(t, ok, "%v", err)
	return cut.Wholeness.Words
}

// A record that was cut after a whole line was read as if it were whole.
func TestARecordThatWasCutIsRefused(t *testing.T) {
	lines := strings.SplitAfter(strings.TrimSuffix(small(t), "\n"), "\n")
	require.Len(t, lines, 10)
	r, whole, err := Read(strings.NewReader(strings.Join(lines, "")))
	require.NoError(t, err)
	assert.Equal(t, Wholeness{Told: true, Whole: true}, whole)
	assert.Len(t, r.Marks, 3)
	for i := 1; i < len(lines); i++ {
		words := notWhole(t, strings.Join(lines[:i], ""))
		assert.Contains(t, words, "its last line is missing", "after line %d", i)
		assert.Equal(t, i < len(lines)-1, strings.Contains(words, "there are"), words)
		// In the middle of a line too.
		assert.Contains(t, notWhole(t, strings.Join(lines[:i], "")+lines[i][:len(lines[i])/2]), "breaks off")
		// A line that is missing between others.
		if i < len(lines)-1 {
			assert.Contains(t, notWhole(t, strings.Join(lines[:i], "")+strings.Join(lines[i+1:], "")), "there are")
		}
	}
	assert.Equal(t, "its last line is missing; there are 0 of 2 joins, 2 of 3 marks, 0 of 1 passages", notWhole(t, strings.Join(lines[:5], "")))
	assert.Equal(t, "there are 2 of 3 marks", notWhole(t, strings.Join(lines[:4], "")+strings.Join(lines[5:], "")))
	_, _, err = Read(strings.NewReader(strings.Join(lines, "") + "\n" + lines[1]))
	assert.ErrorContains(t, err, "line 11: observer behind the line that ends the record")
}

// What mail, editors and other programs change of a text that says the same.
func TestARecordIsWholeHoweverItIsSpelt(t *testing.T) {
	text := small(t)
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	respelt := make([]string, len(lines))
	for i, line := range lines {
		var members map[string]any
		require.NoError(t, json.Unmarshal([]byte(line), &members))
		sorted, err := json.MarshalIndent(members, "", "")
		require.NoError(t, err)
		respelt[i] = strings.ReplaceAll(strings.ReplaceAll(string(sorted), "\n", " "), "500.125", "5.00125E+2")
	}
	require.NotEqual(t, lines[3], respelt[3])
	moved := append([]string{lines[0], lines[5], lines[1]}, append(append([]string{}, lines[2:5]...), lines[6:]...)...)
	for what, text := range map[string]string{
		"line ends of another system": strings.ReplaceAll(text, "\n", "\r\n"), "a mark of the byte order": "\uFEFF" + text, "no last line end": strings.TrimSpace(text),
		"empty lines": strings.ReplaceAll(text, "\n", "\n\n"), "members in another order, other spacing and escapes": strings.Join(respelt, "\n"),
		"lines in another order": strings.Join(moved, "\n"), "written at another time": strings.Replace(text, "2026-04-01T00:00:00Z", "2027-05-02T01:01:01Z", 1),
	} {
		_, whole, err := Read(strings.NewReader(text))
		if assert.NoError(t, err, what) {
			assert.True(t, whole.Whole, what)
		}
	}
}

func TestARecordThatWasChangedIsRefused(t *testing.T) {
	text := small(t)
	for old, changed := range map[string]string{"500.125": "500.126", `"hook"`: `"hooks"`, `"made"`: `"refused"`, `"limbwatch"`: `"other"`, "1e-7": "-1e-7", "R. Vane": "R. Vanë"} {
		require.Contains(t, text, old)
		assert.Contains(t, notWhole(t, strings.Replace(text, old, changed, 1)), "something in it was changed since it was written", old)
	}
	end := text[strings.Index(text, `{"noun":"end"`):]
	assert.Contains(t, notWhole(t, strings.Replace(text, end, strings.Replace(end, `"mark":3`, `"mark":4`, 1), 1)), "there are 3 of 4 marks")
}

// Of a record that is not whole what there is is read, without what names something that
// is missing, and it is told.
func TestAPartOfARecordIsReadWhenAsked(t *testing.T) {
	lines := strings.SplitAfter(small(t), "\n")
	read := func(text string) (Record, string) {
		r, whole, err := ReadPartial(strings.NewReader(text))
		require.NoError(t, err)
		assert.True(t, whole.Told)
		return r, whole.Words
	}
	r, words := read(strings.Join(lines[:5], ""))
	assert.Len(t, r.Marks, 1, "the second is the same as the third, which is missing")
	assert.Equal(t, "its last line is missing; there are 0 of 2 joins, 2 of 3 marks, 0 of 1 passages; left out, since what they name is missing: 1 mark", words)
	r, words = read(strings.Join(lines[:2], "") + strings.Join(lines[3:], "")) // no frame, so no marks, so no joins
	assert.Len(t, r.Passages, 1)
	assert.Empty(t, r.Marks)
	assert.Empty(t, r.Joins)
	assert.Contains(t, words, "there are 0 of 1 frames; left out, since what they name is missing: 2 joins, 3 marks")
	r, words = read(strings.Join(lines[:3], "") + lines[3][:40])
	assert.Len(t, r.Frames, 1)
	assert.Contains(t, words, "line 4 breaks off; its last line is missing")
	r, words = read(strings.Replace(strings.Join(lines, ""), "500.125", "500.126", 1))
	assert.Len(t, r.Marks, 3)
	assert.Contains(t, words, "something in it was changed")
	r, words = read(strings.Join(lines, ""))
	assert.Len(t, r.Marks, 3)
	assert.Empty(t, words)
}

// Records of older versions are read, and nothing tells whether they are whole.
func TestAnOlderRecordSaysNothingOfItsEnd(t *testing.T) {
	lines := strings.SplitAfter(small(t), "\n")
	old := strings.Replace(lines[0], `"version":4`, `"version":2`, 1) + strings.Join(lines[1:6], "")
	r, whole, err := Read(strings.NewReader(old))
	require.NoError(t, err)
	assert.Len(t, r.Marks, 3)
	assert.False(t, whole.Told || whole.Whole)
	assert.Contains(t, whole.Words, "nothing tells whether the record is whole: it is of version 2")
	_, _, err = Read(strings.NewReader(old + lines[9]))
	assert.ErrorContains(t, err, `noun "end" is not known`)
}
