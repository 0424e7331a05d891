package main

import (
	"errors"
	"io"
	"path/filepath"

	"limbwatch/coords/plainfile"
)

// openInput opens what a command reads: standard input for -, else a plain file. The name
// is that for messages; what tells what kind of file to name.
func (a *app) openInput(path, what string) (in io.ReadCloser, name string, err error) {
	if path == "-" {
		return io.NopCloser(a.stdin), "standard input", nil
	}
	file, err := plainfile.Open(path)
	if _, odd := errors.AsType[*plainfile.NotPlainError](err); odd {
		return nil, "", withHint(err, "name %s, or pipe it in and say -", what)
	}
	if err != nil {
		return nil, "", withHint(err, "name %s, or - for standard input", what)
	}
	return file, filepath.Base(path), nil
}
