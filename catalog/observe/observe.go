// Package observe has what an observer does, one function a use: add a picture,
// put its disc right, turn it north, mark something, take it back. The terminal
// and the page call the same ones.
//
// Positions are derived here too, in one place: Derive. The store calls it
// whenever something changes from which a position follows.
package observe

import (
	"context"
	"errors"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// Keeper keeps a catalogue on someone's behalf.
//
//	Store   the open catalogue
//	Origin  whose undo takes back what is done through this Keeper
//	Now     the clock
//	Force   figures that look like a slip are meant (see Plausible)
type Keeper struct {
	Store  *store.Store
	Origin catalog.Origin
	Now    func() time.Time
	Force  bool

	heeds []Telling // see Heeding
}

// Open opens the catalogue at path, or makes one (see store.Open).
func Open(ctx context.Context, path string, origin catalog.Origin, now func() time.Time) (Keeper, error) {
	s, err := store.Open(ctx, path, Derive)
	if err != nil {
		return Keeper{}, err
	}
	if err := s.DeriveAnew(ctx, deriveVersion); err != nil {
		return Keeper{}, errors.Join(err, s.Close())
	}
	return Keeper{Store: s, Origin: origin, Now: now}, nil
}

// As is the same catalogue for another origin.
func (k Keeper) As(origin catalog.Origin) Keeper {
	k.Origin = origin
	return k
}

// Close ends the use of the catalogue.
func (k Keeper) Close() error { return k.Store.Close() }

// update makes a change under a title; fn may set a better one. The warnings of the
// pictures that it touched follow.
func (k Keeper) update(ctx context.Context, title string, fn func(*store.Tx) error) error {
	_, err := k.Store.Update(ctx, k.change(title), func(tx *store.Tx) error {
		if err := fn(tx); err != nil {
			return err
		}
		return reconsider(tx)
	})
	return err
}

func (k Keeper) change(title string) store.Change {
	return store.Change{Title: title, Origin: k.Origin, At: k.Now()}
}

// byItself is the origin of what nobody asked for, as signs that come late: a person's undo
// goes past it, to what the person did.
var byItself = catalog.Desk("itself")

// Undo takes back the newest operation of this origin that still stands, and gives
// it; a sign that came late of what was taken back goes with it. Errors:
// *store.NothingToUndoError, *store.ConflictError.
func (k Keeper) Undo(ctx context.Context) (catalog.Operation, error) {
	op, err := k.Store.Undo(ctx, k.change(""))
	if err != nil {
		return op, err
	}
	return op, k.As(byItself).update(ctx, "signs after an undo", reconsiderOpen)
}

// Redo does again what Undo took back last.
func (k Keeper) Redo(ctx context.Context) (catalog.Operation, error) {
	return k.Store.Redo(ctx, k.change(""))
}
