package wholefile

import (
	"crypto/rand"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
)

// partialName is how partial files are called: by a name of their own, since that of the
// file may be as long as a system allows.
var partialName = regexp.MustCompile(`^\.limbwatch-[A-Z2-7]{26}\.part$`)

// partial makes a partial file and holds the lock on it that Sweep respects.
func partial(folder string) (*os.File, error) {
	for {
		name := filepath.Join(folder, ".limbwatch-"+rand.Text()+".part")
		file, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o644)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		// A sweep may have come between making the file and locking it.
		if err := lock(file); errors.Is(err, errLocked) || gone(file) {
			file.Close()
			os.Remove(name)
			continue
		}
		return file, nil
	}
}

// errLocked is a lock that another program holds.
var errLocked = errors.New("locked")

// gone says whether a file has lost its name.
func gone(file *os.File) bool {
	here, err := file.Stat()
	if err != nil {
		return true
	}
	there, err := os.Lstat(file.Name())
	return err != nil || !os.SameFile(here, there)
}

// Sweep removes from a folder the partial files of programs that were killed, and no
// others: a program that still writes holds a lock on its own. A folder that is not
// there has none.
func Sweep(folder string) (removed int, err error) {
	entries, err := os.ReadDir(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	for _, entry := range entries {
		if !partialName.MatchString(entry.Name()) || !entry.Type().IsRegular() {
			continue
		}
		swept, e := sweep(filepath.Join(folder, entry.Name()))
		err = errors.Join(err, e)
		if swept {
			removed++
		}
	}
	return removed, err
}

// Folder makes a folder and those above it that are missing, so that a power cut does
// not lose what is put into it.
func Folder(path string) error {
	path, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	var missing []string
	for at := path; ; at = filepath.Dir(at) {
		if _, err := os.Stat(at); !errors.Is(err, fs.ErrNotExist) || at == filepath.Dir(at) {
			break
		}
		missing = append(missing, at)
	}
	if err := os.MkdirAll(path, 0o755); err != nil {
		return err
	}
	for _, made := range missing {
		if err := SyncFolder(filepath.Dir(made)); err != nil {
			return named(made, err)
		}
	}
	return nil
}
