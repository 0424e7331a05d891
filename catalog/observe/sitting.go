package observe

import (
	"context"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// Circumstances are who observes, with what and where. Zero means the default, if
// one was chosen.
type Circumstances struct {
	Observer catalog.ObserverID
	Setup    catalog.SetupID
	Site     catalog.SiteID
}

// Circumstances fills in the defaults for what is zero.
func (k Keeper) Circumstances(ctx context.Context, c Circumstances) (Circumstances, error) {
	return c.filled(k.Store.Read(ctx))
}

func (c Circumstances) filled(v *store.View) (Circumstances, error) {
	if c.Observer == 0 {
		o, err := v.DefaultObserver()
		if err != nil && !missing(err) {
			return c, err
		}
		c.Observer = o.ID
	}
	if c.Setup == 0 {
		s, err := v.DefaultSetup()
		if err != nil && !missing(err) {
			return c, err
		}
		c.Setup = s.ID
	}
	if c.Site == 0 {
		s, err := v.DefaultSite()
		if err != nil && !missing(err) {
			return c, err
		}
		c.Site = s.ID
	}
	return c, nil
}

// sittingFor finds the sitting to which an instant belongs, or begins one.
//
// A sitting is a day of an observer at a set-up and site, and that day is the
// site's: it runs from one midnight to the next by the Sun at the site's longitude
// (by UT without a site), so that it stays one over 0h UT. It is filed under the UT
// day of its first frame.
func sittingFor(tx *store.Tx, c Circumstances, at time.Time) (catalog.Sitting, error) {
	begin, err := midnightBefore(tx, c.Site, at)
	if err != nil {
		return catalog.Sitting{}, err
	}
	s, err := tx.SittingNear(c.Observer, c.Setup, c.Site, at, begin, begin.Add(24*time.Hour))
	if missing(err) {
		s, err = sittingWithoutFrames(tx, c, catalog.DayOf(at))
	}
	if missing(err) {
		return tx.AddSitting(catalog.Sitting{Observer: c.Observer, Setup: c.Setup, Site: c.Site, Day: catalog.DayOf(at)})
	}
	if err != nil {
		return s, err
	}
	if day := catalog.DayOf(at); day.Before(s.Day) {
		s.Day = day
		return tx.EditSitting(s)
	}
	return s, nil
}

// refile sees to it that a frame whose time has changed is in the right sitting. One
// that was alone there takes the sitting along; one that is now of another day than
// the rest leaves them.
func refile(tx *store.Tx, f catalog.Frame) (catalog.Frame, error) {
	s, err := tx.Sitting(f.Sitting)
	if err != nil {
		return f, err
	}
	frames, err := tx.FramesOf(s.ID)
	if err != nil {
		return f, err
	}
	rest := slices.DeleteFunc(frames, func(other catalog.Frame) bool { return other.ID == f.ID })
	if len(rest) == 0 {
		s.Day = catalog.DayOf(f.Middle(s.ClockCorrectionS))
		_, err = tx.EditSitting(s)
		return f, err
	}
	theirs, err := midnightBefore(tx, s.Site, rest[0].Middle(s.ClockCorrectionS))
	if err != nil {
		return f, err
	}
	own, err := midnightBefore(tx, s.Site, f.Middle(s.ClockCorrectionS))
	if err != nil || own.Equal(theirs) {
		return f, err
	}
	f.Sitting = 0 // lest it be found by itself
	if f, err = tx.EditFrame(f); err != nil {
		return f, err
	}
	if s, err = sittingFor(tx, Circumstances{s.Observer, s.Setup, s.Site}, f.Middle(0)); err != nil {
		return f, err
	}
	f.Sitting = s.ID
	return tx.EditFrame(f)
}

// midnightBefore is the last midnight by mean solar time at a site, by UT without one.
func midnightBefore(tx *store.Tx, id catalog.SiteID, at time.Time) (time.Time, error) {
	if id == 0 {
		return catalog.DayOf(at), nil
	}
	site, err := tx.Site(id)
	return solarMidnight(at, site.LonDeg), err
}

// solarMidnight is the last midnight, by mean solar time, at a longitude, to the
// millisecond, as times are kept.
func solarMidnight(at time.Time, lonDeg float64) time.Time {
	ahead := time.Duration(lonDeg / 15 * float64(time.Hour)).Round(time.Millisecond)
	return catalog.DayOf(at.Add(ahead)).Add(-ahead)
}

// sittingWithoutFrames finds one that was begun by hand.
func sittingWithoutFrames(tx *store.Tx, c Circumstances, day time.Time) (catalog.Sitting, error) {
	sittings, err := tx.SittingsBetween(day, day)
	if err != nil {
		return catalog.Sitting{}, err
	}
	for _, s := range sittings {
		if s.Observer != c.Observer || s.Setup != c.Setup || s.Site != c.Site {
			continue
		}
		frames, err := tx.FramesOf(s.ID)
		if err != nil || len(frames) == 0 {
			return s, err
		}
	}
	return catalog.Sitting{}, &store.NotFoundError{Noun: "sitting", ID: "without frames"}
}

// AddSitting keeps a sitting before, or without, any frame.
func (k Keeper) AddSitting(ctx context.Context, s catalog.Sitting) (catalog.Sitting, error) {
	return save(ctx, k, "sitting add", s, func(tx *store.Tx, s catalog.Sitting) (catalog.Sitting, error) {
		c, err := Circumstances{s.Observer, s.Setup, s.Site}.filled(&tx.View)
		if err != nil {
			return s, err
		}
		s.Observer, s.Setup, s.Site = c.Observer, c.Setup, c.Site
		return tx.AddSitting(s)
	}, sittingID)
}

// EditSitting keeps a changed sitting: what was looked for, seeing, the clock's
// correction (which moves all that is marked in it), the set-up (by which the limbs
// of its discs are known).
func (k Keeper) EditSitting(ctx context.Context, s catalog.Sitting) (catalog.Sitting, error) {
	return save(ctx, k, "sitting edit", s, func(tx *store.Tx, s catalog.Sitting) (catalog.Sitting, error) {
		s, err := tx.EditSitting(s)
		if err != nil {
			return s, err
		}
		frames, err := tx.FramesOf(s.ID)
		if err != nil {
			return s, err
		}
		return s, relayer(tx, frames)
	}, sittingID)
}

// RemoveSitting takes a sitting without frames out of sight.
func (k Keeper) RemoveSitting(ctx context.Context, id catalog.SittingID, revision int64) error {
	return drop(ctx, k, "sitting", id, revision, (*store.Tx).RemoveSitting)
}

func sittingID(s catalog.Sitting) string { return s.ID.String() }
