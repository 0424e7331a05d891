package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// A disk that fills up, where one may be mounted: what was said to be kept is there, what
// was not is called so, and with room again all goes on. TestAFullDiskIsCalledSo does the
// same within SQLite, where none may be mounted.
func TestASmallDiskFillsUp(t *testing.T) {
	folder := t.TempDir()
	err := unix.Mount("tmpfs", folder, "tmpfs", 0, "size=3m")
	if errors.Is(err, unix.EPERM) {
		t.Skip("LOUD: no small disk may be mounted here, so a full one was tried within SQLite alone")
	}
	require.NoError(t, err)
	defer func() { assert.NoError(t, unix.Unmount(folder, unix.MNT_DETACH)) }()
	path := filepath.Join(folder, "catalogue.db")
	s, err := Open(ctx, path, byFigures)
	require.NoError(t, err)
	kept := 0
	for ; err == nil && kept < 10_000; kept++ {
		err = addObserver(s, strings.Repeat("x", 180)+fmt.Sprint(kept))
	}
	kept--
	_, full := errors.AsType[*FullError](err)
	require.True(t, full, "%v", err)
	require.Greater(t, kept, 50)
	inOrder := func(s *Store, want int) {
		faults, err := s.Check(ctx, true, nil)
		require.NoError(t, err)
		require.Empty(t, faults)
		all, err := s.Read(ctx).Observers()
		require.NoError(t, err)
		require.Len(t, all, want)
	}
	inOrder(s, kept)

	// A copy for which there is no room leaves none that looks like one.
	require.Error(t, s.Snapshot(ctx, filepath.Join(folder, "copy.db")))
	require.NoError(t, os.Remove(filepath.Join(folder, "copy.db")))

	require.NoError(t, unix.Mount("", folder, "", unix.MS_REMOUNT, "size=8m"))
	require.NoError(t, addObserver(s, "with room again"))
	inOrder(s, kept+1)
	require.NoError(t, s.Close())
	s, err = Open(ctx, path, byFigures)
	require.NoError(t, err)
	inOrder(s, kept+1)
	require.NoError(t, s.Close())
}
