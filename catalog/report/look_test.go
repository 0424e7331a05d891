//go:build look

package report

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A month to look at, which no assertion can judge:
//
//	REPORT_LOOK=folder go test -tags look -run Look ./catalog/report
func TestLook(t *testing.T) {
	folder := os.Getenv("REPORT_LOOK")
	require.NotEmpty(t, folder, "REPORT_LOOK names the folder for the files")
	in := aMonth(t, 24)
	began := time.Now()
	doc, err := New(in)
	require.NoError(t, err)
	t.Logf("%d marks, put together in %s", len(in.Entries), time.Since(began))
	for name, write := range map[string]func(*os.File) error{
		"month.html": func(f *os.File) error { return WriteHTML(f, doc) }, "month.md": func(f *os.File) error { return WriteMarkdown(f, doc) },
		"a4.pdf": func(f *os.File) error { return WritePDF(f, doc, A4) }, "letter.pdf": func(f *os.File) error { return WritePDF(f, doc, Letter) },
	} {
		began = time.Now()
		f, err := os.Create(filepath.Join(folder, name))
		require.NoError(t, err)
		require.NoError(t, write(f))
		require.NoError(t, f.Close())
		t.Logf("%s in %s", name, time.Since(began))
	}
}
