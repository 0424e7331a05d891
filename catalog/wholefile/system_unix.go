//go:build unix

package wholefile

import (
	"errors"
	"io/fs"
	"os"
	"syscall"
)

// lock takes the lock on a partial file; errLocked when another program has it. On a
// file system that knows no locks a program writes without, and nothing is swept.
func lock(file *os.File) error {
	err := syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return errLocked
	}
	return err
}

// renamesOpen: a file may be renamed while it is open, and so its lock holds until it has
// its name.
const renamesOpen = true

// sweep removes a partial file, unless its program is still at it.
func sweep(path string) (swept bool, err error) {
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	if err == nil {
		defer file.Close()
		if lock(file) != nil {
			return false, nil
		}
		err = os.Remove(path)
	}
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil // its program has put it in its place meanwhile
	}
	return err == nil, err
}

// giveTo gives a file the owner and the group of another.
func giveTo(file *os.File, other fs.FileInfo) error {
	mine, err := file.Stat()
	if err != nil {
		return err
	}
	have, ok := mine.Sys().(*syscall.Stat_t)
	want, alsoOK := other.Sys().(*syscall.Stat_t)
	if !ok || !alsoOK || have.Uid == want.Uid && have.Gid == want.Gid {
		return nil
	}
	return file.Chown(int(want.Uid), int(want.Gid))
}

// SyncFolder brings a folder's names to the disk.
func SyncFolder(path string) error {
	folder, err := os.Open(path)
	if err != nil {
		return err
	}
	defer folder.Close()
	// Some file systems have no fsync for folders, and say so.
	if err := folder.Sync(); !errors.Is(err, syscall.EINVAL) && !errors.Is(err, syscall.ENOTSUP) {
		return err
	}
	return nil
}

// NoRoom says whether an error means that a disk is full, or all of it used that this user
// may use.
func NoRoom(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}
