package main

import (
	"cmp"
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

// cataloguePath is the file of the catalogue: as told by --catalogue, else by
// LIMBWATCH_CATALOGUE, else in the user's data folder.
func (a *app) cataloguePath() string {
	switch {
	case a.catalogPath != "":
		return a.catalogPath
	case a.fromEnvironment() != "":
		return a.fromEnvironment()
	}
	return usualCatalogue()
}

// fromEnvironment is the file that the environment names, in either spelling; "" for none.
func (a *app) fromEnvironment() string {
	return cmp.Or(a.getenv("LIMBWATCH_CATALOGUE"), a.getenv("LIMBWATCH_CATALOG"))
}

// keeper opens the catalogue when the first command asks for it. Only a command that may
// begin one makes it where there is none.
func (a *app) keeper(ctx context.Context) (observe.Keeper, error) {
	if a.opened != nil {
		return *a.opened, nil
	}
	path := a.cataloguePath()
	isNew, err := a.isNew(path)
	if err != nil {
		return observe.Keeper{}, err
	}
	open := func() (observe.Keeper, error) { return observe.Open(ctx, path, catalog.Terminal, a.now) }
	switch {
	case !isNew || a.begins:
	case a.dryRun:
		open = func() (observe.Keeper, error) { return a.scratch(ctx) }
	default:
		return observe.Keeper{}, a.adviseNoCatalogue(path)
	}
	k, err := open()
	if err != nil {
		return k, adviseOpen(err)
	}
	a.made = isNew && a.begins
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
		return false, withHint(fmt.Errorf("catalogue %s: there is no folder %s", path, folder), "make the folder first, or name another catalogue with --catalogue")
	}
	return true, nil
}

// usualCatalogue lies in the user's data folder.
func usualCatalogue() string { return filepath.Join(xdg.DataHome, "limbwatch", "catalogue.db") }

// tellNew says where a catalogue was made.
func (a *app) tellNew() {
	if a.made {
		fmt.Fprintf(a.stderr, "limbwatch: note: new catalogue %s\n", a.opened.Store.Path())
	}
	a.made = false
}

// close ends the use of the catalogue. One that was made by a command that failed then, and
// kept nothing in it, goes again.
func (a *app) close(ctx context.Context, failed bool) (err error) {
	switch {
	case a.made && failed && !a.opened.Store.Changed():
		var gone bool
		gone, err = a.opened.Store.Withdraw(context.WithoutCancel(ctx))
		a.made = !gone
	case a.opened != nil:
		err = a.opened.Close()
	}
	a.tellNew()
	if a.scratchFolder != "" {
		err = errors.Join(err, os.RemoveAll(a.scratchFolder))
	}
	return adviseReplaced(err)
}

// adviseOpen adds what to do when a catalogue does not open.
func adviseOpen(err error) error {
	if _, ok := errors.AsType[*store.NewerError](err); ok {
		return withHint(err, "use the newer limbwatch, or another file with --catalogue")
	}
	if _, ok := errors.AsType[*store.ForeignError](err); ok {
		err = withHint(err, "name a catalogue, or a file that is not there yet, with --catalogue")
		return withHint(err, "if it was one, limbwatch catalogue restore shows the backups that there are")
	}
	if e, ok := errors.AsType[*store.StrangeLogError](err); ok {
		err = withHint(err, "if the file was only moved away and back, and nothing was changed meanwhile, remove %s-owner instead", e.Path)
		err = withHint(err, "if it is a copy that was put back, move %[1]s-wal and %[1]s-shm away: they belong to the file that stood there before, under whose new name they can be read with it", e.Path)
		return withHint(err, "first end all programs that have the catalogue open, the page among them")
	}
	if _, ok := errors.AsType[*store.DamagedError](err); ok {
		return withHint(err, "keep the file as it is; limbwatch catalogue restore shows the backups that there are; or begin a new catalogue, into which limbwatch import record reads what export record wrote")
	}
	if _, ok := errors.AsType[*store.ReadOnlyError](err); ok {
		return withHint(err, "see whose the file and its folder are: to change it both must be writable")
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
	if _, ok := errors.AsType[*store.FullError](err); ok {
		return withHint(err, "nothing of this was kept, all else is as it was: make room on that drive, then say it again")
	}
	return adviseReplaced(err)
}

// adviseReplaced adds what to do when another file stands where the open catalogue stood.
func adviseReplaced(err error) error {
	e, ok := errors.AsType[*store.ReplacedError](err)
	switch {
	case !ok:
		return err
	case e.Gone:
		err = withHint(err, "put the file back where it was, if it was moved")
	default:
		err = withHint(err, "nothing went into the file that stands there now; say it again to change that one")
	}
	return withHint(err, "end all programs that have the catalogue open, the page among them, before its file is moved, removed or replaced")
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
