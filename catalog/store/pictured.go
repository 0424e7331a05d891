package store

import (
	"database/sql"
	"fmt"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// Pictured is a frame of one's own with a picture, as a list of days needs it.
//
//	Sitting  0: it is of none
//	Middle   of its exposure, by the right time
type Pictured struct {
	Frame   catalog.FrameID
	Sitting catalog.SittingID
	Role    catalog.Role
	Middle  time.Time
}

// ownPictures chooses frames f by the words of the index frames_pictured.
const ownPictures = "f.removed = 0 AND f.reference = 0 AND f.sha256 IS NOT NULL"

// errEnough ends a reading that needs no more.
var errEnough = fmt.Errorf("enough was read")

// PicturesBefore gives fn the pictures whose middle lies before an instant, the newest
// first, until fn wants no more.
func (v *View) PicturesBefore(at time.Time, fn func(Pictured) (more bool)) error {
	return v.pictures("f.middle_utc < ? ORDER BY f.middle_utc DESC, f.id DESC", []any{instant(at)}, fn)
}

// PicturesFrom gives fn those at an instant and after it, the oldest first.
func (v *View) PicturesFrom(at time.Time, fn func(Pictured) (more bool)) error {
	return v.pictures("f.middle_utc >= ? ORDER BY f.middle_utc, f.id", []any{instant(at)}, fn)
}

// PicturesOf lists those of sittings, in the order of time.
func (v *View) PicturesOf(ids []catalog.SittingID) (all []Pictured, err error) {
	if len(ids) == 0 {
		return nil, nil
	}
	err = v.pictures("f.sitting_id IN "+placeholders(1, len(ids))+" ORDER BY f.middle_utc, f.id", numbers(ids), func(p Pictured) bool {
		all = append(all, p)
		return true
	})
	return all, err
}

// PicturesIn lists those among frames, in the order of time.
func (v *View) PicturesIn(ids []catalog.FrameID) (all []Pictured, err error) {
	if len(ids) == 0 {
		return nil, nil
	}
	err = v.pictures("f.id IN "+placeholders(1, len(ids))+" ORDER BY f.middle_utc, f.id", numbers(ids), func(p Pictured) bool {
		all = append(all, p)
		return true
	})
	return all, err
}

func (v *View) pictures(condition string, args []any, fn func(Pictured) (more bool)) error {
	err := v.each("SELECT f.id, f.sitting_id, f.role, f.middle_utc FROM frames f WHERE "+ownPictures+" AND "+condition, args,
		func(scan scanner) error {
			var p Pictured
			var sitting sql.Null[int64]
			var role sql.Null[string]
			var middle string
			err := scan(&p.Frame, &sitting, &role, &middle)
			if err != nil {
				return err
			}
			p.Sitting = catalog.SittingID(sitting.V)
			if p.Role, err = catalog.ParseRole(role.V); err != nil {
				return err
			}
			if p.Middle, err = parseInstant(middle); err != nil {
				return err
			}
			if !fn(p) {
				return errEnough
			}
			return nil
		})
	if err == errEnough {
		return nil
	}
	return err
}

// numbers are ids as a query takes them.
func numbers[ID ~int64](ids []ID) []any {
	args := make([]any, len(ids))
	for i, id := range ids {
		args[i] = int64(id)
	}
	return args
}

// Dotted is a mark as a small disc shows it.
//
//	Seen  it has a place in the sky: PA is its position angle, R its distance from the
//	      centre in radii of the limb; what stands beyond the limb stands at it
type Dotted struct {
	Frame   catalog.FrameID
	Sitting catalog.SittingID
	Kind    catalog.Kind
	Seen    bool
	PA      coords.Angle
	R       float64
}

// Dots lists the marks of sittings, and of frames that are of none, in the order of time.
func (v *View) Dots(sittings []catalog.SittingID, frames []catalog.FrameID) (all []Dotted, err error) {
	for _, part := range []struct {
		condition string
		args      []any
	}{{"f.sitting_id IN ", numbers(sittings)}, {"f.id IN ", numbers(frames)}} {
		if len(part.args) == 0 {
			continue
		}
		err := v.each("SELECT f.id, coalesce(f.sitting_id, 0), t.kind, coalesce(p.edge_pa_deg, p.pa_deg), iif(p.edge_pa_deg IS NULL, p.r, 1)"+
			" FROM frames f CROSS JOIN marks t ON t.frame_id = f.id LEFT JOIN positions p ON p.mark_id = t.id"+
			" WHERE t.removed = 0 AND f.removed = 0 AND f.reference = 0 AND "+part.condition+placeholders(1, len(part.args))+
			" ORDER BY f.middle_utc, f.id, t.id", part.args, func(scan scanner) error {
			var d Dotted
			var kind string
			var pa, r sql.Null[float64]
			err := scan(&d.Frame, &d.Sitting, &kind, &pa, &r)
			if err != nil {
				return err
			}
			d.Seen, d.PA, d.R = pa.Valid && r.Valid, angle(pa.V), r.V
			d.Kind, err = catalog.ParseKind(kind)
			all = append(all, d)
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	return all, nil
}

// Trace is a mark with a place on the disc, as what it belongs to is drawn over days.
//
//	Name     its label; empty: it has none
//	Passage  that it belongs to, with its name; 0: to none
type Trace struct {
	Mark        catalog.MarkID
	Frame       catalog.FrameID
	Sitting     catalog.SittingID
	Kind        catalog.Kind
	Name        string
	UTC         time.Time
	Place       coords.Heliographic
	Passage     catalog.PassageID
	PassageName string
}

// Traces lists the marks of own frames in from ≤ t < to that have a place on the disc,
// corrected for height where that applies, in the order of time.
func (v *View) Traces(from, to time.Time) (all []Trace, err error) {
	var last string
	err = v.each("SELECT t.id, t.frame_id, coalesce(f.sitting_id, 0), t.kind, t.label, p.utc,"+
		" coalesce(p.corrected_lat_deg, p.lat_deg), coalesce(p.corrected_lon_deg, p.lon_deg), coalesce(j.passage_id, 0), coalesce(pa.name, '')"+
		" FROM frames f CROSS JOIN marks t ON t.frame_id = f.id"+
		" CROSS JOIN positions p ON p.mark_id = t.id AND p.reason = '' AND coalesce(p.corrected_lat_deg, p.lat_deg) IS NOT NULL"+
		" LEFT JOIN joins j ON j.mark_id = t.id AND j.removed = 0 AND j.state = 'made'"+
		" LEFT JOIN passages pa ON pa.id = j.passage_id"+
		" WHERE t.removed = 0 AND f.removed = 0 AND f.reference = 0 AND f.middle_utc >= ? AND f.middle_utc < ?"+
		" ORDER BY f.middle_utc, f.id, t.id", []any{instant(from), instant(to)},
		func(scan scanner) error {
			var s Trace
			var kind, utc string
			var lat, lon float64
			err := scan(&s.Mark, &s.Frame, &s.Sitting, &kind, &s.Name, &utc, &lat, &lon, &s.Passage, &s.PassageName)
			if err != nil {
				return err
			}
			s.Place = coords.Heliographic{B: angle(lat), L: angle(lon)}
			if utc == last {
				s.UTC = all[len(all)-1].UTC
			} else if s.UTC, err = parseInstant(utc); err != nil {
				return err
			}
			last = utc
			s.Kind, err = catalog.ParseKind(kind)
			all = append(all, s)
			return err
		})
	return all, err
}

// Newest is the newest entry of the history, whoever made it; 0 before there is one.
// Nothing that the history knows of has changed while it stays the same.
func (v *View) Newest() (id catalog.OperationID, err error) {
	err = v.q.QueryRowContext(v.ctx, "SELECT coalesce(max(id), 0) FROM operations").Scan(&id)
	return id, asBusy(err)
}
