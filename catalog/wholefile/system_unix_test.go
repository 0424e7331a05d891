//go:build unix

package wholefile

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestDevicesAndPipesAreWrittenThrough(t *testing.T) {
	before, err := os.Stat(os.DevNull)
	require.NoError(t, err)
	for _, over := range []bool{false, true} {
		require.NoError(t, Write(os.DevNull, over, write("gone")))
	}
	after, err := os.Stat(os.DevNull)
	require.NoError(t, err)
	assert.True(t, os.SameFile(before, after), "the device stays")
	assert.Equal(t, before.Mode(), after.Mode())

	folder := t.TempDir()
	pipe := filepath.Join(folder, "pipe")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	got := make(chan string, 1)
	go func() {
		data, _ := os.ReadFile(pipe)
		got <- string(data)
	}()
	require.NoError(t, Write(pipe, true, write("through")))
	assert.Equal(t, "through", <-got)
	assert.Equal(t, []string{"pipe"}, names(t, folder), "no partial file, and the pipe stays")
}

func TestAFullDiskLeavesWhatWasThere(t *testing.T) {
	if _, err := os.Stat("/dev/full"); err == nil { // Linux, full(4): every write is ENOSPC
		require.ErrorIs(t, Write("/dev/full", true, write("x")), syscall.ENOSPC)
	}
	folder := smallDisk(t)
	path := filepath.Join(folder, "record.jsonl")
	require.NoError(t, Write(path, false, write("the safety copy")))
	err := Write(path, true, func(w io.Writer) error {
		for {
			if _, err := w.Write(make([]byte, 1<<16)); err != nil {
				return err
			}
		}
	})
	require.ErrorIs(t, err, syscall.ENOSPC)
	assert.Contains(t, err.Error(), path, "the error names the file, not its partial one")
	assert.Equal(t, "the safety copy", content(t, path))
	assert.Equal(t, []string{"record.jsonl"}, names(t, folder), "the room is given back")
}

// smallDisk mounts a file system of 1 MiB, where the test may.
func smallDisk(t *testing.T) string {
	folder := t.TempDir()
	if err := mountSmall(folder, 1<<20); err != nil {
		if errors.Is(err, syscall.EPERM) || errors.Is(err, errors.ErrUnsupported) {
			t.Skip("LOUD: no small disk may be mounted here, so a full one was not tried: ", err)
		}
		t.Fatal(err)
	}
	t.Cleanup(func() { assert.NoError(t, unmount(folder)) })
	return folder
}

func TestModeAndOwnerStay(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("LOUD: only root can make a file of someone else's, so owners were not tried")
	}
	path := filepath.Join(t.TempDir(), "theirs.csv")
	require.NoError(t, os.WriteFile(path, []byte("old"), 0o600))
	require.NoError(t, os.Chmod(path, 0o664))
	require.NoError(t, os.Chown(path, 12, 34))
	require.NoError(t, Write(path, true, write("new")))
	info, err := os.Stat(path)
	require.NoError(t, err)
	owner := info.Sys().(*syscall.Stat_t)
	assert.Equal(t, []uint32{12, 34}, []uint32{owner.Uid, owner.Gid})
	assert.Equal(t, fs.FileMode(0o664), info.Mode().Perm())

	f, err := New(filepath.Join(filepath.Dir(path), "copy"))
	require.NoError(t, err)
	defer f.Discard()
	require.NoError(t, f.Like(path))
	require.NoError(t, f.Keep())
	info, err = os.Stat(f.target)
	require.NoError(t, err)
	assert.Equal(t, fs.FileMode(0o664), info.Mode().Perm())
	assert.Equal(t, uint32(12), info.Sys().(*syscall.Stat_t).Uid)
}

func TestOneHasTheTurn(t *testing.T) {
	path := filepath.Join(t.TempDir(), "turn")
	first, free, err := TakeTurn(path)
	require.NoError(t, err)
	require.True(t, free)
	_, free, err = TakeTurn(path)
	require.NoError(t, err)
	require.False(t, free)
	require.NoError(t, first.Say("a long word"))
	require.NoError(t, first.Say("word"))
	require.NoError(t, first.Close())
	second, free, err := TakeTurn(path)
	require.NoError(t, err)
	require.True(t, free)
	said, err := second.Said()
	require.NoError(t, err)
	assert.Equal(t, "word", said)
	require.FileExists(t, path)
	require.NoError(t, second.Say(""))
	require.NoError(t, second.Close())
	require.NoFileExists(t, path, "nothing to say")
	third, free, err := TakeTurn(path)
	require.NoError(t, err)
	require.True(t, free)
	require.NoError(t, third.Close())
}
