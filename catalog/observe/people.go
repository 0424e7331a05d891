package observe

import (
	"context"
	"errors"
	"fmt"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// save writes one thing as one operation, under a title that ends in its name.
func save[T any](ctx context.Context, k Keeper, title string, thing T, write func(*store.Tx, T) (T, error), name func(T) string) (T, error) {
	var saved T
	err := k.update(ctx, title, func(tx *store.Tx) (err error) {
		if saved, err = write(tx, thing); err != nil {
			return err
		}
		tx.SetTitle("%s %s", title, name(saved))
		return nil
	})
	if err != nil {
		return thing, err
	}
	return saved, nil
}

// drop takes one thing out of sight as one operation.
func drop[ID fmt.Stringer](ctx context.Context, k Keeper, noun string, id ID, revision int64, remove func(*store.Tx, ID, int64) error) error {
	return k.update(ctx, fmt.Sprintf("%s remove %s", noun, id), func(tx *store.Tx) error {
		return remove(tx, id, revision)
	})
}

// missing says whether an error only means that something is not there.
func missing(err error) bool {
	_, ok := errors.AsType[*store.NotFoundError](err)
	return ok
}

// AddObserver keeps a new observer. The first is meant from then on when none is
// named; so it is with sites and set-ups.
func (k Keeper) AddObserver(ctx context.Context, o catalog.Observer) (catalog.Observer, error) {
	return save(ctx, k, "observer add", o, func(tx *store.Tx, o catalog.Observer) (catalog.Observer, error) {
		_, err := tx.DefaultObserver()
		o.Default = o.Default || missing(err)
		return tx.AddObserver(o)
	}, observerID)
}

// EditObserver keeps a changed observer.
func (k Keeper) EditObserver(ctx context.Context, o catalog.Observer) (catalog.Observer, error) {
	return save(ctx, k, "observer edit", o, (*store.Tx).EditObserver, observerID)
}

// RemoveObserver takes an observer out of sight who is not named by any sitting.
func (k Keeper) RemoveObserver(ctx context.Context, id catalog.ObserverID, revision int64) error {
	return drop(ctx, k, "observer", id, revision, (*store.Tx).RemoveObserver)
}

// AddSite keeps a new site.
func (k Keeper) AddSite(ctx context.Context, s catalog.Site) (catalog.Site, error) {
	return save(ctx, k, "site add", s, func(tx *store.Tx, s catalog.Site) (catalog.Site, error) {
		_, err := tx.DefaultSite()
		s.Default = s.Default || missing(err)
		return tx.AddSite(s)
	}, siteID)
}

// EditSite keeps a changed site.
func (k Keeper) EditSite(ctx context.Context, s catalog.Site) (catalog.Site, error) {
	return save(ctx, k, "site edit", s, (*store.Tx).EditSite, siteID)
}

// RemoveSite takes a site out of sight that is not named by any sitting.
func (k Keeper) RemoveSite(ctx context.Context, id catalog.SiteID, revision int64) error {
	return drop(ctx, k, "site", id, revision, (*store.Tx).RemoveSite)
}

// AddInstrument keeps a new instrument with its first set-up, whose Instrument
// need not be set.
func (k Keeper) AddInstrument(ctx context.Context, i catalog.Instrument, first catalog.Setup) (catalog.Instrument, catalog.Setup, error) {
	err := k.update(ctx, "instrument add", func(tx *store.Tx) (err error) {
		if i, err = tx.AddInstrument(i); err != nil {
			return err
		}
		first.Instrument = i.ID
		first, err = addSetup(tx, first)
		tx.SetTitle("instrument add %s", i.ID)
		return err
	})
	return i, first, err
}

// EditInstrument keeps a changed instrument.
func (k Keeper) EditInstrument(ctx context.Context, i catalog.Instrument) (catalog.Instrument, error) {
	return save(ctx, k, "instrument edit", i, (*store.Tx).EditInstrument,
		func(i catalog.Instrument) string { return i.ID.String() })
}

// EditInstrumentAndSetup keeps a changed instrument and one of its set-ups as one
// operation.
func (k Keeper) EditInstrumentAndSetup(ctx context.Context, i catalog.Instrument, s catalog.Setup) (catalog.Instrument, catalog.Setup, error) {
	err := k.update(ctx, "instrument edit", func(tx *store.Tx) (err error) {
		if i, err = tx.EditInstrument(i); err != nil {
			return err
		}
		s, err = editSetup(tx, s)
		tx.SetTitle("instrument edit %s, set-up %s", i.ID, s.ID)
		return err
	})
	return i, s, err
}

// RemoveInstrument takes an instrument and its set-ups out of sight, none of which
// may be named by a sitting.
func (k Keeper) RemoveInstrument(ctx context.Context, id catalog.InstrumentID, revision int64) error {
	return drop(ctx, k, "instrument", id, revision, func(tx *store.Tx, id catalog.InstrumentID, revision int64) error {
		setups, err := tx.SetupsOf(id)
		if err != nil {
			return err
		}
		for _, s := range setups {
			if err := tx.RemoveSetup(s.ID, store.Newest); err != nil {
				return err
			}
		}
		return tx.RemoveInstrument(id, revision)
	})
}

// AddSetup keeps a new set-up of an instrument.
func (k Keeper) AddSetup(ctx context.Context, s catalog.Setup) (catalog.Setup, error) {
	return save(ctx, k, "set-up add", s, addSetup, setupID)
}

func addSetup(tx *store.Tx, s catalog.Setup) (catalog.Setup, error) {
	_, err := tx.DefaultSetup()
	s.Default = s.Default || missing(err)
	return tx.AddSetup(s)
}

// EditSetup keeps a changed set-up. Discs whose limb is known by it follow.
func (k Keeper) EditSetup(ctx context.Context, s catalog.Setup) (catalog.Setup, error) {
	return save(ctx, k, "set-up edit", s, editSetup, setupID)
}

func editSetup(tx *store.Tx, s catalog.Setup) (catalog.Setup, error) {
	s, err := tx.EditSetup(s)
	if err != nil {
		return s, err
	}
	frames, err := tx.FramesUsing(s.ID)
	if err != nil {
		return s, err
	}
	return s, relayer(tx, frames)
}

// RemoveSetup takes a set-up out of sight that is not named by any sitting.
func (k Keeper) RemoveSetup(ctx context.Context, id catalog.SetupID, revision int64) error {
	return drop(ctx, k, "set-up", id, revision, (*store.Tx).RemoveSetup)
}

func observerID(o catalog.Observer) string { return o.ID.String() }
func siteID(s catalog.Site) string         { return s.ID.String() }
func setupID(s catalog.Setup) string       { return s.ID.String() }
