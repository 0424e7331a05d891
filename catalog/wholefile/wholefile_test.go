package wholefile

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func write(text string) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := io.WriteString(w, text)
		return err
	}
}

// halfway writes a part and fails, as a full disk does.
func halfway(w io.Writer) error {
	if _, err := io.WriteString(w, "half"); err != nil {
		return err
	}
	return errors.New("no more")
}

func content(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(data)
}

// names lists all that is in a folder.
func names(t *testing.T, folder string) (list []string) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	for _, e := range entries {
		list = append(list, e.Name())
	}
	return list
}

func TestANewFileIsWholeOrNotThere(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "chart.svg")
	require.EqualError(t, Write(path, false, halfway), "no more")
	assert.Empty(t, names(t, folder), "nothing is left of a file that failed")

	require.NoError(t, Write(path, false, write("whole")))
	assert.Equal(t, "whole", content(t, path))
	assert.Equal(t, []string{"chart.svg"}, names(t, folder))

	require.ErrorIs(t, Write(path, false, write("other")), fs.ErrExist)
	assert.Equal(t, "whole", content(t, path), "a file that is there is not written over unasked")
	assert.Equal(t, []string{"chart.svg"}, names(t, folder))
}

func TestWhatIsReplacedStaysWhenItFails(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "record.jsonl")
	require.NoError(t, os.WriteFile(path, []byte("the safety copy"), 0o640))
	require.Error(t, Write(path, true, halfway))
	assert.Equal(t, "the safety copy", content(t, path))
	assert.Equal(t, []string{"record.jsonl"}, names(t, folder))

	require.NoError(t, Write(path, true, write("newer")))
	assert.Equal(t, "newer", content(t, path))
	info, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, fs.FileMode(0o640), info.Mode().Perm(), "the mode stays")
	assert.Equal(t, []string{"record.jsonl"}, names(t, folder))
}

func TestReadersSeeTheOldOrTheNewAndNoMixture(t *testing.T) {
	path := filepath.Join(t.TempDir(), "f")
	old, next := strings.Repeat("a", 1<<16), strings.Repeat("b", 1<<16)
	require.NoError(t, Write(path, false, write(old)))
	stop := make(chan struct{})
	seen := make(chan error, 1)
	go func() {
		for {
			select {
			case <-stop:
				seen <- nil
				return
			default:
			}
			data, err := os.ReadFile(path)
			if err == nil && string(data) != old && string(data) != next {
				err = fmt.Errorf("%d bytes of neither", len(data))
			}
			if err != nil {
				seen <- err
				return
			}
		}
	}()
	for i := range 50 {
		require.NoError(t, Write(path, true, write([]string{next, old}[i%2])))
	}
	close(stop)
	require.NoError(t, <-seen)
}

func TestAnotherThatWasQuickerIsNotWrittenOver(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "sun.png")
	f, err := New(path)
	require.NoError(t, err)
	defer f.Discard()
	_, err = io.WriteString(f, "mine")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, []byte("theirs"), 0o644))
	require.ErrorIs(t, f.Keep(), fs.ErrExist)
	assert.Equal(t, "theirs", content(t, path))
	other := filepath.Join(folder, "sun (2).png")
	require.NoError(t, f.KeepAs(other), "it may be kept under another name")
	assert.Equal(t, "mine", content(t, other))
	assert.ElementsMatch(t, []string{"sun.png", "sun (2).png"}, names(t, folder))
}

func TestALinkIsFollowedAndStays(t *testing.T) {
	folder := t.TempDir()
	far := filepath.Join(folder, "far")
	require.NoError(t, os.Mkdir(far, 0o755))
	link := filepath.Join(folder, "report.html")
	require.NoError(t, os.Symlink(filepath.Join("far", "real.html"), link))

	require.ErrorIs(t, Write(link, false, write("new")), fs.ErrExist, "a link is there, though it leads nowhere")
	require.NoError(t, Write(link, true, write("new")), "to what is not there yet")
	require.NoError(t, Write(link, true, write("newer")))
	info, err := os.Lstat(link)
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&fs.ModeSymlink, "the link stays a link")
	assert.Equal(t, "newer", content(t, filepath.Join(far, "real.html")))
	assert.Equal(t, []string{"real.html"}, names(t, far))

	circle := filepath.Join(folder, "circle")
	require.NoError(t, os.Symlink("circle", circle))
	require.Error(t, Write(circle, true, write("x")))
	require.Error(t, Write(far, true, write("x")), "a folder is no file")
}

func TestSweepTakesWhatIsLeftOverAndNothingElse(t *testing.T) {
	folder := t.TempDir()
	left := filepath.Join(folder, ".limbwatch-AAAAAAAAAAAAAAAAAAAAAAAAAA.part") // of a program that was killed
	others := []string{"sun.png", ".limbwatch-.part", "x.part", ".limbwatch-AAAAAAAAAAAAAAAAAAAAAAAAAA.part.png"}
	for _, name := range append(others, filepath.Base(left)) {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte("x"), 0o644))
	}
	f, err := New(filepath.Join(folder, "still-coming.png"))
	require.NoError(t, err)
	defer f.Discard()
	_, err = io.WriteString(f, "still coming")
	require.NoError(t, err)

	removed, err := Sweep(folder)
	require.NoError(t, err)
	assert.Equal(t, 1, removed)
	assert.NoFileExists(t, left)
	require.NoError(t, f.Keep(), "a file that is being written is left alone")
	assert.ElementsMatch(t, append(others, "still-coming.png"), names(t, folder))

	removed, err = Sweep(filepath.Join(folder, "none"))
	require.NoError(t, err)
	assert.Zero(t, removed)
}

func TestSweepingDisturbsNobodyWhoWrites(t *testing.T) {
	folder := t.TempDir()
	stop := make(chan struct{})
	swept := make(chan error, 1)
	go func() {
		for {
			select {
			case <-stop:
				swept <- nil
				return
			default:
			}
			if _, err := Sweep(folder); err != nil {
				swept <- err
				return
			}
		}
	}()
	for end, i := time.Now().Add(300*time.Millisecond), 0; time.Now().Before(end); i++ {
		require.NoError(t, Write(filepath.Join(folder, fmt.Sprint(i)), false, write("x")))
	}
	close(stop)
	require.NoError(t, <-swept)
}

func TestWhatAnEndingProgramWasWritingGoes(t *testing.T) {
	folder := t.TempDir()
	f, err := New(filepath.Join(folder, "a"))
	require.NoError(t, err)
	defer f.Discard()
	RemoveUnfinished()
	assert.Empty(t, names(t, folder))
}

func TestALongNameHasRoom(t *testing.T) {
	name := strings.Repeat("s", 255) // as long as Linux and Windows allow
	require.NoError(t, Write(filepath.Join(t.TempDir(), name), false, write("x")))
}

func TestFoldersAreMade(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a", "b")
	require.NoError(t, Folder(path))
	require.NoError(t, Folder(path))
	assert.DirExists(t, path)
	file := filepath.Join(path, "f")
	require.NoError(t, os.WriteFile(file, nil, 0o644))
	require.Error(t, Folder(filepath.Join(file, "c")))
}
