package observe

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"limbwatch/catalog/store"
	"limbwatch/coords/plainfile"
)

// InTheWayError refuses to write onto what the record stands on.
type InTheWayError struct{ Path, What string }

func (e *InTheWayError) Error() string {
	return fmt.Sprintf("%s is %s, and is not written over", e.Path, e.What)
}

// MayWriteOver says whether a file may be replaced: neither the open catalogue nor what
// belongs to it, nor a picture that is known by where it lies or by what it holds. Errors:
// *InTheWayError.
func (k Keeper) MayWriteOver(ctx context.Context, path string) error {
	info, err := os.Stat(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	for _, companion := range store.Companions(k.Store.Path()) {
		if sameFile(path, info, companion) {
			return &InTheWayError{path, "the catalogue, or belongs to it"}
		}
	}
	if info == nil || !info.Mode().IsRegular() {
		return nil
	}
	view := k.Store.Read(ctx)
	pictures, err := view.FramePaths()
	if err != nil {
		return err
	}
	for _, picture := range pictures {
		if sameFile(path, info, picture) {
			return &InTheWayError{path, "the picture of a frame"}
		}
	}
	sum, err := checksum(ctx, path)
	if err != nil {
		return err
	}
	f, err := view.FrameByContent(sum)
	if missing(err) {
		return nil
	}
	if err != nil {
		return err
	}
	return &InTheWayError{path, "the picture of frame " + f.ID.String()}
}

// sameFile compares names and, where there is a file, what they lead to. It opens
// nothing: closing the catalogue would let go of its locks.
func sameFile(path string, info fs.FileInfo, other string) bool {
	if there, err := os.Stat(other); err == nil && info != nil {
		return os.SameFile(info, there)
	}
	return resolved(path) == resolved(other)
}

// resolved is a name with the links of its folder followed.
func resolved(path string) string {
	path, err := filepath.Abs(path)
	if err != nil {
		return path
	}
	folder, err := filepath.EvalSymlinks(filepath.Dir(path))
	if err != nil {
		return path
	}
	return filepath.Join(folder, filepath.Base(path))
}

// checksum is the SHA-256 of a file, as a frame's is written.
func checksum(ctx context.Context, path string) (string, error) {
	file, err := plainfile.Open(path)
	if err != nil {
		return "", err
	}
	defer file.Close()
	sum := sha256.New()
	for {
		if err := ctx.Err(); err != nil {
			return "", err
		}
		if _, err := io.CopyN(sum, file, 1<<20); errors.Is(err, io.EOF) {
			return hex.EncodeToString(sum.Sum(nil)), nil
		} else if err != nil {
			return "", err
		}
	}
}
