package observe

import (
	"context"
	"io"
	"os"
	"path/filepath"

	"limbwatch/catalog/wholefile"
)

// linkOrCopy gives a file another name, or, where a disk does not let it, copies it whole.
// The folder is made.
func linkOrCopy(ctx context.Context, from, to string) error {
	if err := wholefile.Folder(filepath.Dir(to)); err != nil {
		return err
	}
	if os.Link(from, to) == nil {
		return nil
	}
	return copyWhole(ctx, from, to, false)
}

// copyWhole copies a file, over another where over is set.
func copyWhole(ctx context.Context, from, to string, over bool) error {
	source, err := os.Open(from)
	if err != nil {
		return err
	}
	defer source.Close()
	return wholefile.Write(to, over, func(w io.Writer) error {
		_, err := io.Copy(w, untilDone{ctx, source})
		return err
	})
}
