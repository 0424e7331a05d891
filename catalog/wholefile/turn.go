package wholefile

import (
	"errors"
	"io"
	"io/fs"
	"os"
)

// Turn is the right to do what only one program may do at a time. It ends with the program,
// however that ends. On Windows everybody has it: there is no such lock there.
type Turn struct{ file *os.File }

// TakeTurn takes the turn that a file stands for, and makes the file where it is missing;
// free is false while another program has it.
func TakeTurn(path string) (turn Turn, free bool, err error) {
	file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return Turn{}, false, err
	}
	if err := lock(file); errors.Is(err, errLocked) {
		return Turn{}, false, file.Close()
	}
	return Turn{file}, true, nil // a file system that knows no locks stops nobody
}

// Close lets others have it, and takes the file away unless a word is left in it. One who
// opened it just before and has the turn of a file that is gone does what was done already,
// at worst.
func (t Turn) Close() error {
	info, err := t.file.Stat()
	if err != nil || info.Size() > 0 {
		return errors.Join(err, t.file.Close())
	}
	path := t.file.Name()
	held := os.Remove(path) // while nobody else can have taken it
	err = t.file.Close()
	if held != nil && !errors.Is(held, fs.ErrNotExist) {
		os.Remove(path) // Windows removes no open file
	}
	return err
}

// Say leaves a word for whoever has it next.
func (t Turn) Say(word string) error {
	if err := t.file.Truncate(0); err != nil {
		return err
	}
	_, err := t.file.WriteAt([]byte(word), 0)
	return err
}

// Said is the word that was left; at most a kilobyte of it.
func (t Turn) Said() (string, error) {
	word, err := io.ReadAll(io.NewSectionReader(t.file, 0, 1<<10))
	return string(word), err
}
