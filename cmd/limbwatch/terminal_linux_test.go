package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// terminal is a pseudo-terminal: what a program writes to its far end is read from the
// near one (pts(4)).
func terminal(t *testing.T) (near, far *os.File) {
	t.Helper()
	near, err := os.OpenFile("/dev/ptmx", os.O_RDWR, 0)
	require.NoError(t, err)
	t.Cleanup(func() { near.Close() })
	require.NoError(t, unix.IoctlSetPointerInt(int(near.Fd()), unix.TIOCSPTLCK, 0))
	number, err := unix.IoctlGetInt(int(near.Fd()), unix.TIOCGPTN)
	require.NoError(t, err)
	far, err = os.OpenFile(fmt.Sprintf("/dev/pts/%d", number), os.O_RDWR|unix.O_NOCTTY, 0)
	require.NoError(t, err)
	t.Cleanup(func() { far.Close() })
	return near, far
}

// watched runs the program with its errors and notes on a terminal, and gives what
// that showed.
func watched(t *testing.T, args ...string) string {
	t.Helper()
	near, far := terminal(t)
	cmd := program(args...)
	cmd.Stderr = far
	require.NoError(t, cmd.Start())
	require.NoError(t, far.Close())
	shown := make(chan string)
	go func() {
		var all strings.Builder
		text := make([]byte, 1<<10)
		for {
			n, err := near.Read(text) // EIO when the program has ended
			all.Write(text[:n])
			if err != nil {
				shown <- all.String()
				return
			}
		}
	}()
	err := cmd.Wait()
	all := <-shown
	require.NoError(t, err, all)
	return all
}

// What may take long at a large catalogue shows that it is at it, where somebody watches,
// and leaves nothing of that on the line.
func TestCatalogueCommandsShowHowFarTheyAre(t *testing.T) {
	newCatalogue(t)
	done(t, "mark", "add", "sunspot", "--at", "2026-03-14T15:23:10Z", "--place", "N08E14")
	folder := filepath.Join(t.TempDir(), "kept")
	backup := watched(t, "catalogue", "backup", folder)
	made, err := filepath.Glob(filepath.Join(folder, "*.db"))
	require.NoError(t, err)
	require.Len(t, made, 1)
	for says, shown := range map[string]string{
		"copying and checking":          backup,
		"looking through it":            watched(t, "catalogue", "check"),
		"comparing":                     watched(t, "catalogue", "restore", made[0], "--dry-run"),
		"checking and putting in place": watched(t, "catalogue", "restore", made[0]),
	} {
		require.Contains(t, shown, says)
		rest := shown[strings.LastIndex(shown, says):]
		assert.Contains(t, rest, "\r", "the line is made free again: %q", shown)
	}
}
