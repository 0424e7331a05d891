package main

import (
	"context"
	"errors"
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
	return filepath.Join(xdg.DataHome, "limbwatch", "catalogue.db")
}

// keeper opens the catalogue when the first command asks for it.
func (a *app) keeper(ctx context.Context) (observe.Keeper, error) {
	if a.opened != nil {
		return *a.opened, nil
	}
	k, err := observe.Open(ctx, a.cataloguePath(), catalog.Terminal, a.now)
	if err != nil {
		return k, adviseOpen(err)
	}
	a.opened = &k
	return k, nil
}

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
	return err
}

// adviseStore adds what to do to the store's own errors.
func adviseStore(err error) error {
	if e, ok := errors.AsType[*store.StaleError](err); ok {
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
	return err
}

// isMissing says whether an error only means that something is not there.
func isMissing(err error) bool {
	e, ok := errors.AsType[*store.NotFoundError](err)
	return ok && !e.Removed
}
