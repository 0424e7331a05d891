//go:build !unix

package wholefile

import (
	"errors"
	"io/fs"
	"os"
	"syscall"
)

// lock always succeeds: on Windows a file that is open cannot be removed, which keeps
// a sweep off it as well.
func lock(*os.File) error { return nil }

// renamesOpen: nor can it be renamed.
const renamesOpen = false

// sweep removes a partial file, unless its program is still at it.
func sweep(path string) (swept bool, err error) { return os.Remove(path) == nil, nil }

func giveTo(*os.File, fs.FileInfo) error { return nil }

// SyncFolder does nothing: Windows has no fsync of folders.
func SyncFolder(string) error { return nil }

// NoRoom says whether an error means that a disk is full: ERROR_DISK_FULL and
// ERROR_HANDLE_DISK_FULL of Windows (its list of system error codes).
func NoRoom(err error) bool {
	return errors.Is(err, syscall.Errno(112)) || errors.Is(err, syscall.Errno(39))
}
