package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"limbwatch/catalog/wholefile"
)

// InUseElsewhereError refuses to put another file in the place of a catalogue that a
// program has open.
type InUseElsewhereError struct{ Path string }

func (e *InUseElsewhereError) Error() string {
	return fmt.Sprintf("another program has the catalogue open: %s", e.Path)
}

// SetAside gives what stands at a catalogue's path a second name, as a file that is whole by
// itself, so that another may be renamed over the first: there is a catalogue at any
// time. One that cannot be opened any more gets the name with its log beside it. false:
// nothing stands there. A catalogue that a program has open is refused with an
// *InUseElsewhereError.
func SetAside(ctx context.Context, path, aside string) (stood bool, err error) {
	if _, err := os.Lstat(aside); !errors.Is(err, fs.ErrNotExist) {
		return false, fmt.Errorf("%s is there already", aside)
	}
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return false, moveLog(path, aside)
	}
	if err := endLog(ctx, path); err != nil {
		return true, err
	}
	if err := os.Link(path, aside); err != nil {
		return true, err
	}
	if err := moveLog(path, aside); err != nil {
		return true, err
	}
	return true, wholefile.SyncFolder(filepath.Dir(path))
}

// endLog brings all that is in a catalogue's log into its file, which no other program may
// have open for that. A file that is no catalogue, or damaged, or beside another's log, is
// left as it is.
func endLog(ctx context.Context, path string) error {
	file, err := openFile(path)
	if _, foreign := errors.AsType[*ForeignError](err); foreign {
		return nil
	}
	if err != nil {
		return err
	}
	defer file.release()
	_, strange := errors.AsType[*StrangeLogError](file.ownLog())
	if strange || file.whole() != nil {
		return nil
	}
	const patience = time.Second
	db := connect(path, fmt.Sprintf("_busy_timeout=%d", patience.Milliseconds()), 1, nil)
	defer db.Close()
	if _, err := schemaOfOpen(ctx, db); err != nil {
		return nil // it cannot be read: all of it is set aside
	}
	var mode string
	err = asBusy(db.QueryRowContext(ctx, "PRAGMA journal_mode=DELETE").Scan(&mode))
	if _, busy := errors.AsType[*BusyError](err); busy || err == nil && mode != "delete" {
		return &InUseElsewhereError{path}
	}
	if _, damaged := errors.AsType[*DamagedError](err); damaged {
		return nil
	}
	return err
}

// moveLog takes what is left of a log away from a path, to where the file itself went.
func moveLog(path, aside string) error {
	for _, end := range []string{"-wal", "-shm", "-journal"} {
		if err := os.Rename(path+end, aside+end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}
