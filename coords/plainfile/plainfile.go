// Package plainfile opens files for reading that somebody named, and refuses what is no
// plain file before it is opened: reading a pipe can wait for ever, and merely opening a
// device can set it off.
package plainfile

import (
	"fmt"
	"io"
	"io/fs"
	"os"
)

// NotPlainError refuses a folder, a pipe, a device or a socket.
type NotPlainError struct{ Path, What string }

func (e *NotPlainError) Error() string { return fmt.Sprintf("%s is %s, no file", e.Path, e.What) }

// Open opens a plain file, or a link to one. Errors: *NotPlainError, and those of os.Open.
func Open(path string) (*os.File, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if err := check(path, info); err != nil {
		return nil, err
	}
	file, err := openWithoutWaiting(path)
	if err != nil {
		return nil, err
	}
	// Something else may have taken the name meanwhile.
	if info, err = file.Stat(); err == nil {
		err = check(path, info)
	}
	if err != nil {
		file.Close()
		return nil, err
	}
	return file, nil
}

// Read reads a whole plain file of at most so many bytes.
func Read(path string, atMost int64) ([]byte, error) {
	file, err := Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, atMost+1))
	if err == nil && int64(len(data)) > atMost {
		return nil, &TooLongError{path, atMost}
	}
	return data, err
}

// TooLongError refuses a file of more bytes than make sense.
type TooLongError struct {
	Path   string
	AtMost int64
}

func (e *TooLongError) Error() string {
	return fmt.Sprintf("%s is longer than %d bytes", e.Path, e.AtMost)
}

func check(path string, info fs.FileInfo) error {
	what := ""
	switch mode := info.Mode(); {
	case mode.IsRegular():
		return nil
	case mode.IsDir():
		what = "a folder"
	case mode&fs.ModeNamedPipe != 0:
		what = "a pipe"
	case mode&fs.ModeSocket != 0:
		what = "a socket"
	default:
		what = "a device"
	}
	return &NotPlainError{path, what}
}
