package years

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
)

// Kept gives a catalogue of so many marks of which the test may do what it likes, and what
// is in it. To fill one of a million takes minutes: where LIMBWATCH_YEARS names a folder
// they are kept there, and copied.
func Kept(tb testing.TB, marks int) (path string, made Made) {
	tb.Helper()
	folder := os.Getenv("LIMBWATCH_YEARS")
	if folder == "" {
		folder = tb.TempDir()
	}
	kept := filepath.Join(folder, fmt.Sprintf("%d.db", marks))
	made, err := told(kept)
	if err != nil {
		made = fill(tb, kept, marks)
	}
	path = filepath.Join(tb.TempDir(), "catalogue.db")
	copyFile(tb, kept, path)
	return path, made
}

func fill(tb testing.TB, path string, marks int) Made {
	tb.Helper()
	must := func(err error) {
		if err != nil {
			tb.Fatalf("catalogue of %d marks: %v", marks, err)
		}
	}
	os.Remove(path)
	k, err := observe.Open(context.Background(), path, catalog.Terminal, time.Now)
	must(err)
	made, err := Fill(context.Background(), k, marks)
	must(err)
	must(k.Close())
	must(os.WriteFile(path+".made", fmt.Append(nil, made.Days, made.Observers, made.Marks, made.Passages, int64(made.Last), int64(made.AtEdge), int64(made.Passage)), 0o644))
	return made
}

// told reads what a kept catalogue was filled with.
func told(path string) (m Made, err error) {
	text, err := os.ReadFile(path + ".made")
	if err != nil {
		return m, err
	}
	var last, edge, passage int64
	_, err = fmt.Sscan(string(text), &m.Days, &m.Observers, &m.Marks, &m.Passages, &last, &edge, &passage)
	m.Last, m.AtEdge, m.Passage = catalog.FrameID(last), catalog.MarkID(edge), catalog.PassageID(passage)
	m.End, m.First = End, End.AddDate(0, 0, 1-m.Days)
	return m, err
}

func copyFile(tb testing.TB, from, to string) {
	tb.Helper()
	in, err := os.Open(from)
	if err != nil {
		tb.Fatal(err)
	}
	defer in.Close()
	out, err := os.Create(to)
	if err == nil {
		_, err = io.Copy(out, in)
	}
	if err == nil {
		err = out.Close()
	}
	if err != nil {
		tb.Fatal(err)
	}
}
