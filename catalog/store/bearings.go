package store

import (
	"database/sql"
	"slices"
	"time"

	"limbwatch/catalog"
)

// Bearings reads all from which the positions on a frame follow.
func (v *View) Bearings(id catalog.FrameID) (catalog.Bearings, error) {
	found, err := v.bearings("f.id = ?", int64(id))
	if err != nil {
		return catalog.Bearings{}, err
	}
	if len(found) == 0 {
		_, err := v.Frame(id) // whose error says whether it was removed
		return catalog.Bearings{}, err
	}
	return found[0], nil
}

// BearingsOf reads the same of many frames, by id; one that is not there is left out.
func (v *View) BearingsOf(ids []catalog.FrameID) ([]catalog.Bearings, error) {
	const chunk = 500 // names in one query
	ids = slices.Compact(slices.Sorted(slices.Values(ids)))
	var all []catalog.Bearings
	for some := range slices.Chunk(ids, chunk) {
		args := make([]any, len(some))
		for i, id := range some {
			args[i] = int64(id)
		}
		found, err := v.bearings("f.id IN "+placeholders(1, len(args)), args...)
		if err != nil {
			return nil, err
		}
		all = append(all, found...)
	}
	return all, nil
}

// BearingsOfSitting reads the same of the frames of a sitting, in time order.
func (v *View) BearingsOfSitting(id catalog.SittingID) ([]catalog.Bearings, error) {
	all, err := v.bearings("f.sitting_id = ?", int64(id))
	slices.SortStableFunc(all, func(a, b catalog.Bearings) int {
		return a.Frame.Middle(a.ClockCorrectionS).Compare(b.Frame.Middle(b.ClockCorrectionS))
	})
	return all, err
}

// BearingsBetween reads the same of the frames whose middle lies in from ≤ t < to, in
// time order.
func (v *View) BearingsBetween(from, to time.Time) ([]catalog.Bearings, error) {
	all, err := v.bearings("f.middle_utc >= ? AND f.middle_utc < ?", instant(from), instant(to))
	slices.SortStableFunc(all, func(a, b catalog.Bearings) int {
		return a.Frame.Middle(a.ClockCorrectionS).Compare(b.Frame.Middle(b.ClockCorrectionS))
	})
	return all, err
}

// bearings reads those of the live frames f that a condition chooses, by id. Discs
// and norths are read in queries of their own, so that each noun is scanned in one
// place only.
func (v *View) bearings(condition string, args ...any) ([]catalog.Bearings, error) {
	var all []catalog.Bearings
	var siteIDs []sql.Null[int64]
	err := v.each("SELECT coalesce(s.clock_correction_s, 0), s.site_id, "+frames.selection("f")+
		" FROM frames f LEFT JOIN sittings s ON s.id = f.sitting_id WHERE f.removed = 0 AND "+condition+" ORDER BY f.id", args,
		func(scan scanner) (err error) {
			var b catalog.Bearings
			var site sql.Null[int64]
			b.Frame, err = frames.scan(scan.with(&b.ClockCorrectionS, &site))
			all, siteIDs = append(all, b), append(siteIDs, site)
			return err
		})
	if err != nil {
		return nil, err
	}
	return all, v.complete(all, siteIDs, condition, args)
}

// complete adds site, disc and north to bearings in the order of their frames.
func (v *View) complete(all []catalog.Bearings, siteIDs []sql.Null[int64], condition string, args []any) error {
	inFrames := "t.frame_id IN (SELECT f.id FROM frames f WHERE f.removed = 0 AND " + condition + ") ORDER BY t.frame_id"
	foundDiscs, err := find(v, &discs, inFrames, args...)
	if err != nil {
		return err
	}
	foundNorths, err := find(v, &norths, inFrames, args...)
	if err != nil {
		return err
	}
	known := map[int64]*catalog.Site{}
	for i, d, n := 0, 0, 0; i < len(all); i++ {
		if d < len(foundDiscs) && foundDiscs[d].Frame == all[i].Frame.ID {
			all[i].Disc = &foundDiscs[d]
			d++
		}
		if n < len(foundNorths) && foundNorths[n].Frame == all[i].Frame.ID {
			all[i].North = &foundNorths[n]
			n++
		}
		if id := siteIDs[i]; id.Valid {
			if known[id.V] == nil {
				site, err := v.Site(catalog.SiteID(id.V))
				if err != nil {
					return err
				}
				known[id.V] = &site
			}
			all[i].Site = known[id.V]
		}
	}
	return nil
}
