package store

import (
	"fmt"
	"os"

	"golang.org/x/sys/unix"
)

// identity is what the system knows a file by: its inode, and when it was made, since an
// inode that was given free is given again. It is not that of a copy. The number of the
// disk is left out, for it may be another after the machine was started anew. Empty where
// the system does not say.
func identity(f *os.File) string {
	var s unix.Statx_t
	if err := unix.Statx(int(f.Fd()), "", unix.AT_EMPTY_PATH, unix.STATX_INO|unix.STATX_BTIME, &s); err != nil {
		return ""
	}
	return fmt.Sprintf("%d %d.%09d", s.Ino, s.Btime.Sec, s.Btime.Nsec)
}

// mayMakeFiles says whether files may be made in a folder.
func mayMakeFiles(folder string) bool {
	return unix.Faccessat(unix.AT_FDCWD, folder, unix.W_OK|unix.X_OK, unix.AT_EACCESS) == nil
}
