package observe

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// DayDifference is a UT day of which a catalogue and a backup hold different things.
type DayDifference struct {
	Day       string
	Now, Then store.DayCount
}

// Difference is what would be other if a backup were put in the place of a catalogue.
//
//	Days     that differ, oldest first
//	Undoing  changes that the catalogue has and the backup has not, newest first; at most
//	         a hundred
//	Unreadable  why the catalogue, or the backup, cannot be compared; nil when they were
type Difference struct {
	Days       []DayDifference
	Undoing    []catalog.Operation
	Unreadable error
}

// Compare says what putting a backup in a catalogue's place would change.
func Compare(ctx context.Context, catalogue, backup string, now func() time.Time) (Difference, error) {
	var d Difference
	then, err := store.OpenSnapshot(ctx, backup, Derive)
	if err != nil {
		if ctx.Err() != nil {
			return d, ctx.Err()
		}
		return Difference{Unreadable: err}, nil
	}
	defer then.Close()
	if _, err := os.Stat(catalogue); errors.Is(err, fs.ErrNotExist) {
		return d, d.compare(nil, then.Read(ctx))
	}
	k, err := Open(ctx, catalogue, catalog.Terminal, now)
	if err != nil {
		return Difference{Unreadable: err}, ctx.Err()
	}
	defer k.Close()
	return d, d.compare(k.Store.Read(ctx), then.Read(ctx))
}

// compare fills in the days and the changes; here is nil where there is no catalogue.
func (d *Difference) compare(here, there *store.View) error {
	then, err := there.Days()
	if err != nil {
		return err
	}
	var now []store.DayCount
	if here != nil {
		if now, err = here.Days(); err != nil {
			return err
		}
		if d.Undoing, err = laterChanges(here, there); err != nil {
			return err
		}
	}
	for len(now) > 0 || len(then) > 0 {
		var day DayDifference
		first := len(then) == 0 || len(now) > 0 && now[0].Day <= then[0].Day
		second := len(now) == 0 || len(then) > 0 && then[0].Day <= now[0].Day
		if first {
			day.Day, day.Now, now = now[0].Day, now[0], now[1:]
		}
		if second {
			day.Day, day.Then, then = then[0].Day, then[0], then[1:]
		}
		if day.Now != day.Then {
			d.Days = append(d.Days, day)
		}
	}
	return nil
}

func laterChanges(here, there *store.View) (later []catalog.Operation, err error) {
	const most = 100
	all, err := here.History("", most)
	for _, op := range all {
		if had, err := there.Operation(op.ID); err == nil && had.UUID == op.UUID {
			break
		}
		later = append(later, op)
	}
	return later, err
}

// Restored is what putting a backup in place did.
//
//	Aside     where what stood there is kept; "" when nothing did
//	Pictures  pictures that were missing or changed and came back with it
//	Missing   pictures of the catalogue's own folder that neither it nor the backup has
type Restored struct {
	Aside    string
	Pictures int
	Missing  []string
}

// Restore puts a backup in the place of a catalogue, after looking through all of it, and
// keeps what stood there. Pictures come from the folder in which the backup lies. Errors:
// *UnsoundError of the backup, *store.InUseElsewhereError while a program has the catalogue
// open.
func Restore(ctx context.Context, catalogue, backup string, now func() time.Time) (Restored, error) {
	var done Restored
	catalogue, err := filepath.Abs(catalogue)
	if err != nil {
		return done, err
	}
	if err := soundToRestore(ctx, backup); err != nil {
		return done, err
	}
	aside := asideName(catalogue, now())
	stood, err := store.SetAside(ctx, catalogue, aside)
	if err != nil {
		return done, err
	}
	if stood {
		done.Aside = aside
	}
	if err := copyWhole(ctx, backup, catalogue, true); err != nil {
		return done, err
	}
	k, err := Open(ctx, catalogue, catalog.Terminal, now)
	if err != nil {
		return done, err
	}
	err = k.restorePictures(ctx, filepath.Dir(backup), &done)
	return done, errors.Join(err, k.Close())
}

// asideName is a free name for what stands at a path and is replaced: with the time, and
// with a number when that second has had one, be it only a log without its catalogue.
func asideName(path string, now time.Time) string {
	stamped := path + ".replaced-" + now.UTC().Format(backupStamp)
	for n, name := 2, stamped; ; n, name = n+1, fmt.Sprintf("%s-%d", stamped, n) {
		if !slices.ContainsFunc(store.Companions(name), taken) {
			return name
		}
	}
}

func taken(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// soundToRestore looks through a backup; one of an older schema is looked through when it
// has been brought up to date.
func soundToRestore(ctx context.Context, backup string) error {
	faults, err := checkFile(ctx, backup, true)
	if _, older := errors.AsType[*store.OlderError](err); older {
		return nil
	}
	if err == nil && len(faults) > 0 {
		return fmt.Errorf("%s: %w", backup, &UnsoundError{faults})
	}
	return err
}

func (k Keeper) restorePictures(ctx context.Context, folder string, done *Restored) error {
	frames, err := k.Store.Read(ctx).FramesWithFiles(false)
	if err != nil {
		return err
	}
	own := ownPictures(k.Store.Path())
	for _, f := range frames {
		if filepath.Dir(f.Path) != own {
			continue
		}
		sum, err := contentOf(ctx, f.Path)
		if err == nil && sum == f.SHA256 {
			continue
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		from := pictureCopy(folder, f)
		if sum, err := contentOf(ctx, from); err != nil || sum != f.SHA256 {
			done.Missing = append(done.Missing, f.Path)
			continue
		}
		if err == nil { // another content stands under its name
			if err := os.Rename(f.Path, asideName(f.Path, k.Now())); err != nil {
				return err
			}
		}
		if err := linkOrCopy(ctx, from, f.Path); err != nil {
			return err
		}
		done.Pictures++
	}
	return nil
}
