package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"

	"limbwatch/catalog/observe"
	"limbwatch/catalog/wholefile"
)

// writeNew writes a file whole, and does not write over one unless forced to: then, too,
// not over what the record stands on.
func writeNew(ctx context.Context, k observe.Keeper, path string, data []byte, force bool) error {
	if err := k.MayWriteOver(ctx, path); err != nil {
		return adviseOut(err)
	}
	_, _ = wholefile.Sweep(filepath.Dir(path)) // what a killed export left; what stays is in nobody's way
	return adviseOut(wholefile.Write(path, force, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	}))
}

// adviseOut says what to do about a file that cannot be written.
func adviseOut(err error) error {
	if _, ok := errors.AsType[*observe.InTheWayError](err); ok {
		return withHint(err, "name another place")
	}
	if _, ok := errors.AsType[*wholefile.OwnerError](err); ok {
		return withHint(err, "name another place, or remove it first")
	}
	if taken, ok := errors.AsType[*fs.PathError](err); ok && errors.Is(taken.Err, fs.ErrExist) {
		return withHint(fmt.Errorf("file %q is there already", taken.Path), "name another place, or say --force")
	}
	return err
}
