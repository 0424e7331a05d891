// Package read says what a screen or a list shows: a stretch of days, a day with all that
// is marked in it, what has changed since. Each asks the store for what it shows and no
// more, so that it costs the same in the thirtieth year of a record as in the first.
//
// What was read is of a version: the newest entry of the history then (store.View.Newest).
// While that stays the same, so does what would be read again.
package read

import (
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// Day is a sitting with pictures, in small; a picture that is of no sitting is one of its
// own.
//
//	Sitting  0: a picture without one
//	Open     the picture to open: the first that is not of the edge alone
//	Frames   its pictures, in the order of time
//	Middle   of its first exposure
//	Marks    how many it has; of those that have a place there are Dots
type Day struct {
	Sitting catalog.SittingID
	Open    catalog.FrameID
	Frames  []catalog.FrameID
	Middle  time.Time
	Marks   int
	Dots    []Dot

	role catalog.Role // of Open
}

// Dot is a mark on a disc of radius 1 with solar north up: U to the right, which is west,
// V up.
type Dot struct {
	Kind catalog.Kind
	U, V float64
}

// Key names the day: its sitting, or its only picture.
func (d Day) Key() string { return keyOf(d.Sitting, d.Open) }

// Key names the day of a frame.
func Key(f catalog.Frame) string { return keyOf(f.Sitting, f.ID) }

func keyOf(sitting catalog.SittingID, frame catalog.FrameID) string {
	if sitting != 0 {
		return sitting.String()
	}
	return frame.String()
}

// Days is a stretch of days in the order of their first exposures: all that have a picture
// in From ≤ t < To, each with all of its pictures. Sittings may lie within one another, so
// that one at an end may have pictures beyond it; it is of the next stretch too.
//
//	Earlier, Later  there are pictures before From, at To or after it
type Days struct {
	Days           []Day
	From, To       time.Time
	Earlier, Later bool
}

// DaysBefore are the last n days that have a picture before an instant; more where many
// pictures are of one instant.
func DaysBefore(v *store.View, at time.Time, n int) (Days, error) {
	found, from, more, err := walk(n, at, v.PicturesBefore)
	if err != nil {
		return Days{}, err
	}
	days, err := found.days(v)
	return Days{Days: days, From: from.Add(time.Millisecond), To: at, Earlier: more, Later: true}, err
}

// DaysFrom are the first n days that have a picture at an instant or after it.
func DaysFrom(v *store.View, at time.Time, n int) (Days, error) {
	found, to, more, err := walk(n, at, v.PicturesFrom)
	if err != nil {
		return Days{}, err
	}
	days, err := found.days(v)
	return Days{Days: days, From: at, To: to, Earlier: true, Later: more}, err
}

// DaysAround are the days around an instant, n of them, half on either side.
func DaysAround(v *store.View, at time.Time, n int) (Days, error) {
	before, from, earlier, err := walk(n/2, at, v.PicturesBefore)
	if err != nil {
		return Days{}, err
	}
	after, to, later, err := walk(n-n/2, at, v.PicturesFrom)
	if err != nil {
		return Days{}, err
	}
	before.sittings, before.frames, before.lone = append(before.sittings, after.sittings...), append(before.frames, after.frames...), append(before.lone, after.lone...)
	days, err := before.days(v)
	return Days{Days: days, From: from.Add(time.Millisecond), To: to, Earlier: earlier, Later: later}, err
}

// NewestDay is the last of all; false when there is none.
func NewestDay(v *store.View) (Day, bool, error) {
	last, err := DaysBefore(v, latest, 1)
	if err != nil || len(last.Days) == 0 {
		return Day{}, false, err
	}
	return last.Days[0], true, nil
}

// latest is later than any picture may be.
var latest = time.Date(2201, 1, 1, 0, 0, 0, 0, time.UTC)

// chosen are days by what they are made of.
type chosen struct {
	sittings []catalog.SittingID
	frames   []catalog.FrameID // that are of none
	lone     []store.Pictured  // the same
}

// walk gathers the days that pictures from an instant on come to, the first n of them and
// those of the same instant, and says at which picture's instant it ended.
func walk(n int, from time.Time, pictures func(time.Time, func(store.Pictured) bool) error) (c chosen, end time.Time, more bool, err error) {
	seen := map[catalog.SittingID]bool{}
	end = from
	err = pictures(from, func(p store.Pictured) bool {
		full := len(c.sittings)+len(c.frames) >= n
		if more = full && !p.Middle.Equal(end) && (p.Sitting == 0 || !seen[p.Sitting]); more {
			end = p.Middle
			return false
		}
		end = p.Middle
		switch {
		case p.Sitting == 0:
			c.frames, c.lone = append(c.frames, p.Frame), append(c.lone, p)
		case !seen[p.Sitting]:
			seen[p.Sitting] = true
			c.sittings = append(c.sittings, p.Sitting)
		}
		return true
	})
	return c, end, more, err
}

// days reads the days that were chosen.
func (c chosen) days(v *store.View) ([]Day, error) {
	slices.Sort(c.sittings)
	c.sittings = slices.Compact(c.sittings)
	pictures, err := v.PicturesOf(c.sittings)
	if err != nil {
		return nil, err
	}
	pictures = append(pictures, c.lone...)
	slices.SortStableFunc(pictures, func(a, b store.Pictured) int { return a.Middle.Compare(b.Middle) })
	days := []Day{}
	at := map[string]int{}
	for _, p := range pictures {
		key := keyOf(p.Sitting, p.Frame)
		i, known := at[key]
		if !known {
			i = len(days)
			at[key] = i
			days = append(days, Day{Sitting: p.Sitting, Open: p.Frame, Middle: p.Middle, Dots: []Dot{}, role: p.Role})
		}
		d := &days[i]
		d.Frames = append(d.Frames, p.Frame)
		if d.role == catalog.RoleLimb && p.Role != catalog.RoleLimb { // the disc exposure is the one to open
			d.Open, d.role = p.Frame, p.Role
		}
	}
	dots, err := v.Dots(c.sittings, c.frames)
	if err != nil {
		return nil, err
	}
	faces := make([]*coords.Face, len(days))
	for _, dot := range dots {
		i, known := at[keyOf(dot.Sitting, dot.Frame)]
		if !known {
			continue
		}
		days[i].Marks++
		if !dot.Seen {
			continue
		}
		if faces[i] == nil {
			face := ephemeris.At(days[i].Middle)
			faces[i] = &face
		}
		sin, cos := (dot.PA - faces[i].P).Sincos() // from solar north through east, which is left
		days[i].Dots = append(days[i].Dots, Dot{Kind: dot.Kind, U: -dot.R * sin, V: dot.R * cos})
	}
	return days, nil
}
