// Package wholefile writes files whole or not at all. What is written goes into a
// partial file in the same folder; only when all of it is on the disk does that take
// the file's name. A full disk, an error or a killed program leaves what stood there
// before.
//
// Only a regular file is put in place like that. A link is followed, and the file it
// leads to is replaced; a device, a pipe or a socket is written through, for there is
// nothing that could be kept whole.
//
// What POSIX promises of rename, and fsync of file and folder, holds a power cut too.
// Windows has no fsync of folders: there the new name may be lost with the power, never
// the old content for half a new one.
package wholefile

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
)

// File is a file on its way. It is written to, then kept or discarded.
type File struct {
	file   *os.File
	target string      // the name it is to have, links followed
	before fs.FileInfo // what it replaces; nil for a new one
	over   bool
	stream bool // a device or a pipe: there is no partial file

	finished bool // all of it is on the disk
	done     bool // kept or discarded
}

// New begins a file that is not there yet; one that is gives an error that is
// fs.ErrExist, now or, where another was quicker, when it is kept. A device or a pipe
// may be there: nothing of it is lost.
func New(path string) (*File, error) { return begin(path, false) }

// Over begins a file that takes the place of the one that is there, if any. Mode, owner
// and group stay; where they cannot, as on a file of someone else's, that is an
// *OwnerError and nothing is replaced.
func Over(path string) (*File, error) { return begin(path, true) }

// Begin begins a new file in a folder, under no name yet: KeepAs gives it one.
func Begin(folder string) (*File, error) {
	f := &File{target: folder}
	var err error
	if f.file, err = partial(folder); err != nil {
		return nil, named(folder, err)
	}
	unfinished.add(f)
	return f, nil
}

// Write makes the file at path, as New or Over do, of what fill writes.
func Write(path string, over bool, fill func(io.Writer) error) error {
	f, err := begin(path, over)
	if err != nil {
		return err
	}
	defer f.Discard()
	if err := fill(f); err != nil {
		return err
	}
	return f.Keep()
}

// OwnerError is a file that would change hands by being replaced.
type OwnerError struct{ Path string }

func (e *OwnerError) Error() string {
	return e.Path + ": it is someone else's, and would not stay theirs"
}

func begin(path string, over bool) (*File, error) {
	f := &File{target: path, over: over}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if f.target, err = followed(path); err != nil {
			return nil, err
		}
		if f.target != path && !over { // a link is there, though it leads nowhere yet
			return nil, taken(path)
		}
	case err != nil:
		return nil, err
	case info.IsDir():
		return nil, fmt.Errorf("%s: it is a folder", path)
	case !info.Mode().IsRegular():
		f.stream = true
		f.file, err = os.OpenFile(path, os.O_WRONLY, 0)
		return f, err
	case !over:
		return nil, taken(path)
	default:
		if err := mayWrite(path); err != nil {
			return nil, err
		}
		f.before = info
		if f.target, err = filepath.EvalSymlinks(path); err != nil {
			return nil, err
		}
	}
	if f.file, err = partial(filepath.Dir(f.target)); err != nil {
		return nil, named(path, err)
	}
	unfinished.add(f)
	return f, nil
}

// mayWrite asks whether a file may be written to: a rename would not ask.
func mayWrite(path string) error {
	file, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	return file.Close()
}

func taken(path string) error { return &fs.PathError{Op: "write", Path: path, Err: fs.ErrExist} }

// followed is where links lead that end at no file.
func followed(path string) (string, error) {
	for range 40 { // as many as Linux follows
		to, err := os.Readlink(path)
		if err != nil {
			return path, nil // no link: the name itself
		}
		if !filepath.IsAbs(to) {
			to = filepath.Join(filepath.Dir(path), to)
		}
		path = to
	}
	return "", fmt.Errorf("%s: links that lead in a circle", path)
}

// named puts the file's own name before an error that names its partial file.
func named(path string, err error) error {
	if e, ok := errors.AsType[*fs.PathError](err); ok {
		err = e.Err
	} else if e, ok := errors.AsType[*os.LinkError](err); ok {
		err = e.Err
	}
	return fmt.Errorf("%s: %w", path, err)
}

// Name is where the content lies until it is kept, for another library that writes it.
func (f *File) Name() string { return f.file.Name() }

func (f *File) Write(b []byte) (int, error) {
	n, err := f.file.Write(b)
	if err != nil {
		err = named(f.target, err)
	}
	return n, err
}

// Like gives the file the mode of another, and its owner where that may be: a copy is
// no more open to others than what it is a copy of.
func (f *File) Like(path string) error {
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	_ = giveTo(f.file, info) // who may not give a copy away keeps it
	return f.file.Chmod(info.Mode().Perm())
}

// Private makes the file its owner's alone.
func (f *File) Private() error { return f.file.Chmod(0o600) }

// Keep gives the file its name, after all of it has reached the disk. When the name is
// taken (fs.ErrExist, of New) it may still be kept under another one.
func (f *File) Keep() error { return f.KeepAs(f.target) }

// KeepAs is Keep under another name in the same folder.
func (f *File) KeepAs(path string) error {
	if f.stream {
		f.done = true
		if err := f.file.Close(); err != nil {
			return named(path, err)
		}
		return nil
	}
	f.target = path
	if err := f.finish(); err != nil {
		return err
	}
	if err := f.rename(); err != nil {
		return named(path, err)
	}
	f.done = true
	unfinished.remove(f)
	if renamesOpen {
		if err := f.file.Close(); err != nil {
			return named(path, err)
		}
	}
	if err := SyncFolder(filepath.Dir(path)); err != nil {
		return named(path, err)
	}
	return nil
}

// finish brings all that was written to the disk, once: a file may be kept under another
// name when the first was taken.
func (f *File) finish() error {
	if f.finished {
		return nil
	}
	if err := f.inherit(); err != nil {
		return err
	}
	if err := f.file.Sync(); err != nil {
		return named(f.target, err)
	}
	if !renamesOpen {
		if err := f.file.Close(); err != nil {
			return named(f.target, err)
		}
	}
	f.finished = true
	return nil
}

// inherit takes over mode and owner of what is replaced.
func (f *File) inherit() error {
	if f.before == nil {
		return nil
	}
	if err := giveTo(f.file, f.before); err != nil {
		return &OwnerError{f.target}
	}
	if err := f.file.Chmod(f.before.Mode().Perm()); err != nil {
		return named(f.target, err)
	}
	return nil
}

// rename moves the partial file to its name. A new one is linked there first, which
// fails where a name is taken, as a rename does not. File systems without links, as on
// memory cards, are looked at instead: there two programs at once could still collide.
func (f *File) rename() error {
	if f.over {
		return os.Rename(f.file.Name(), f.target)
	}
	err := os.Link(f.file.Name(), f.target)
	switch {
	case err == nil:
		os.Remove(f.file.Name()) // the file has its name: at worst a sweep removes the other
		return nil
	case errors.Is(err, fs.ErrExist):
		return err
	}
	if _, err := os.Lstat(f.target); err == nil {
		return fs.ErrExist
	}
	return os.Rename(f.file.Name(), f.target)
}

// Discard removes what was written, unless it was kept.
func (f *File) Discard() {
	if f.done {
		return
	}
	f.done = true
	f.file.Close()
	if !f.stream {
		os.Remove(f.file.Name())
		unfinished.remove(f)
	}
}

// unfinished are the partial files of this program.
var unfinished = partials{of: map[*File]bool{}}

type partials struct {
	mu sync.Mutex
	of map[*File]bool
}

func (p *partials) add(f *File) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.of[f] = true
}

func (p *partials) remove(f *File) {
	p.mu.Lock()
	defer p.mu.Unlock()
	delete(p.of, f)
}

// RemoveUnfinished removes the partial files of this program, for one that ends in the
// middle of writing them.
func RemoveUnfinished() {
	unfinished.mu.Lock()
	defer unfinished.mu.Unlock()
	for f := range unfinished.of {
		if !renamesOpen { // nor removed
			f.file.Close()
		}
		os.Remove(f.file.Name())
	}
}
