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

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// CheckOptions is what a check looks at beside the catalogue itself.
//
//	Pictures  read every picture and compare it with what it held when it was added
//	Step      hears how far it is: what is looked through, how many of how many; may be nil
type CheckOptions struct {
	Pictures bool
	Step     func(what string, done, total int)
}

// Checked is what a check found. Notes say what could not be looked at.
type Checked struct {
	Faults   []store.Fault
	Notes    []string
	Frames   int
	Marks    int
	Pictures int // looked at
}

// Check looks through the whole catalogue and, if asked, all its pictures.
func (k Keeper) Check(ctx context.Context, o CheckOptions) (Checked, error) {
	if o.Step == nil {
		o.Step = func(string, int, int) {}
	}
	var c Checked
	version, err := k.Store.DeriveVersion(ctx)
	if err != nil {
		return c, err
	}
	compare := version == deriveVersion
	if !compare {
		c.Notes = append(c.Notes, fmt.Sprintf("positions were not computed anew: they were derived in way %d, this limbwatch derives in way %d", version, deriveVersion))
	}
	if c.Faults, err = k.Store.Check(ctx, compare, func(done, total int) { o.Step("frames", done, total) }); err != nil {
		return c, err
	}
	days, err := k.Store.Read(ctx).Days()
	if err != nil {
		return c, asFault(&c, err)
	}
	for _, d := range days {
		c.Frames, c.Marks = c.Frames+d.Frames, c.Marks+d.Marks
	}
	if !o.Pictures {
		return c, nil
	}
	frames, err := k.Store.Read(ctx).FramesWithFiles(false)
	if err != nil {
		return c, asFault(&c, err)
	}
	for i, f := range frames {
		if err := ctx.Err(); err != nil {
			return c, err
		}
		if says := pictureFault(ctx, f); says != "" {
			c.Faults = append(c.Faults, store.Fault{Thing: "frame " + f.ID.String(), Says: says})
		}
		c.Pictures++
		o.Step("pictures", i+1, len(frames))
	}
	return c, ctx.Err()
}

// asFault lists a damage that keeps the rest from being looked at; other errors it gives back.
func asFault(c *Checked, err error) error {
	if _, ok := errors.AsType[*store.DamagedError](err); !ok {
		return err
	}
	if len(c.Faults) == 0 {
		c.Faults = append(c.Faults, store.Fault{Thing: "file", Says: err.Error()})
	}
	return nil
}

// pictureFault says what is wrong with the picture of a frame, or nothing.
func pictureFault(ctx context.Context, f catalog.Frame) string {
	switch sum, err := contentOf(ctx, f.Path); {
	case errors.Is(err, fs.ErrNotExist):
		return "its picture is missing: " + f.Path
	case err != nil:
		return "its picture cannot be read: " + err.Error()
	case sum != f.SHA256:
		return "its picture was changed: " + f.Path
	}
	return ""
}

// contentOf is the SHA-256 of a regular file, as frames keep it.
func contentOf(ctx context.Context, path string) (string, error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", err
	}
	if !info.Mode().IsRegular() {
		return "", fmt.Errorf("%s is no file", path)
	}
	file, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer file.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, untilDone{ctx, file}); err != nil {
		return "", err
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// untilDone reads until its context ends.
type untilDone struct {
	ctx context.Context
	r   io.Reader
}

func (u untilDone) Read(b []byte) (int, error) {
	if err := u.ctx.Err(); err != nil {
		return 0, err
	}
	return u.r.Read(b)
}
