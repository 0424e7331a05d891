package observe

import (
	"context"
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
	var lonDeg float64
	if c.Site != 0 {
		site, err := tx.Site(c.Site)
		if err != nil {
			return catalog.Sitting{}, err
		}
		lonDeg = site.LonDeg
	}
	begin := solarMidnight(at, lonDeg)
	const halfDay = 12 * time.Hour
	s, err := tx.SittingNear(c.Observer, c.Setup, c.Site, begin.Add(halfDay), halfDay-time.Millisecond)
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

// solarMidnight is the last midnight, by mean solar time, at a longitude.
func solarMidnight(at time.Time, lonDeg float64) time.Time {
	ahead := time.Duration(lonDeg / 15 * float64(time.Hour))
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
// correction (which moves all that is marked in it).
func (k Keeper) EditSitting(ctx context.Context, s catalog.Sitting) (catalog.Sitting, error) {
	return save(ctx, k, "sitting edit", s, (*store.Tx).EditSitting, sittingID)
}

// RemoveSitting takes a sitting without frames out of sight.
func (k Keeper) RemoveSitting(ctx context.Context, id catalog.SittingID, revision int64) error {
	return drop(ctx, k, "sitting", id, revision, (*store.Tx).RemoveSitting)
}

func sittingID(s catalog.Sitting) string { return s.ID.String() }
