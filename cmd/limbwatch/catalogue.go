package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/adrg/xdg"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

// cataloguePath is the file of the catalogue: as told by --catalog, else by
// LIMBWATCH_CATALOG, else in the user's data folder.
func (a *app) cataloguePath() string {
	switch {
	case a.catalogPath != "":
		return a.catalogPath
	case a.getenv("LIMBWATCH_CATALOG") != "":
		return a.getenv("LIMBWATCH_CATALOG")
	}
	return usualCatalogue()
}

// keeper opens the catalogue when the first command asks for it.
func (a *app) keeper(ctx context.Context) (observe.Keeper, error) {
	if a.opened != nil {
		return *a.opened, nil
	}
	path := a.cataloguePath()
	isNew, err := a.isNew(path)
	if err != nil {
		return observe.Keeper{}, err
	}
	k, err := observe.Open(ctx, path, catalog.Terminal, a.now)
	if err != nil {
		return k, adviseOpen(err)
	}
	if isNew {
		fmt.Fprintf(a.stderr, "limbwatch: note: new catalogue %s\n", path)
	}
	a.opened = &k
	return k, nil
}

// isNew says whether there is no catalogue yet. One may be made in any folder that
// is there; only the usual one is made with its folder, for a path that was typed
// wrongly shall leave nothing behind.
func (a *app) isNew(path string) (bool, error) {
	if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
		return false, nil // opening it will say what is wrong, if anything
	}
	folder := filepath.Dir(path)
	if _, err := os.Stat(folder); errors.Is(err, fs.ErrNotExist) && path != usualCatalogue() {
		return false, withHint(fmt.Errorf("catalogue %s: there is no folder %s", path, folder), "make the folder first, or name another catalogue with --catalog")
	}
	return true, nil
}

// usualCatalogue lies in the user's data folder.
func usualCatalogue() string { return filepath.Join(xdg.DataHome, "limbwatch", "catalogue.db") }

func (a *app) close() error {
	if a.opened == nil {
		return nil
	}
	return a.opened.Close()
}

// adviseOpen adds what to do when a catalogue does not open.
func adviseOpen(err error) error {
	if _, ok := errors.AsType[*store.NewerError](err); ok {
		return withHint(err, "use the newer limbwatch, or another file with --catalog")
	}
	if _, ok := errors.AsType[*store.ForeignError](err); ok {
		return withHint(err, "name a catalogue, or a file that is not there yet, with --catalog")
	}
	if _, ok := errors.AsType[*store.DamagedError](err); ok {
		return withHint(err, "keep the file as it is, and go on with a copy of yours, or with a new catalogue into which limbwatch import record reads what export record wrote")
	}
	if _, ok := errors.AsType[*store.ReadOnlyError](err); ok {
		return withHint(err, "see whose the file and its folder are: both must be writable, for reading too")
	}
	return err
}

// adviseStore adds what to do to the store's own errors.
func adviseStore(err error) error {
	if e, ok := errors.AsType[*store.StaleError](err); ok {
		for _, d := range e.Different {
			err = withHint(err, "%s: it says %s now, yours %s", d.Column, saidValue(d.Here), saidValue(d.There))
		}
		return withHint(err, "look at it as it stands now (%s show %s), then say again what to change", e.Noun, e.ID)
	}
	if e, ok := errors.AsType[*store.InUseError](err); ok {
		return withHint(err, "remove or change %s %s first", e.ByNoun, e.ByID)
	}
	if e, ok := errors.AsType[*store.NotFoundError](err); ok && e.Removed {
		return withHint(err, "limbwatch undo may bring it back")
	}
	if _, ok := errors.AsType[*store.BusyError](err); ok {
		return withHint(err, "wait until it has ended, then try again")
	}
	if _, ok := errors.AsType[*store.ReadOnlyError](err); ok {
		return adviseOpen(err)
	}
	return err
}

// adviseTaken says which name of a thing is taken already, and where to see whose it is.
func adviseTaken(err error, noun, name, list string) error {
	if _, ok := errors.AsType[*store.TakenError](err); ok {
		return withHint(fmt.Errorf("there is %s %q already", noun, name), "choose another name; limbwatch %s shows what is there", list)
	}
	return adviseStore(err)
}

// saidValue writes a column's value.
func saidValue(v any) string {
	switch v := v.(type) {
	case nil:
		return "nothing"
	case string:
		return fmt.Sprintf("%.60q", v)
	}
	return fmt.Sprint(v)
}

// isMissing says whether an error only means that something is not there.
func isMissing(err error) bool {
	e, ok := errors.AsType[*store.NotFoundError](err)
	return ok && !e.Removed
}
