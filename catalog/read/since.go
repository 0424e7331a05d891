package read

import (
	"slices"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// Change is what has changed since a version.
//
//	Version   the newest now
//	Much      too much to tell: what is shown is read anew
//	Marks     that are other than they were, or new
//	Gone      marks that are out of sight now
//	Frames    whose picture, time, disc, north or warnings are other; those gone too
//	Sittings  of which something was put right
//	Days      that are other than they were, or new
//	GoneDays  the keys of those that have no picture any more
type Change struct {
	Version  catalog.OperationID
	Much     bool
	Marks    []catalog.MarkID
	Gone     []catalog.MarkID
	Frames   []catalog.FrameID
	Sittings []catalog.SittingID
	Days     []Day
	GoneDays []string
}

// Since tells what has changed since a version.
func Since(v *store.View, version catalog.OperationID) (Change, error) {
	touched, err := v.TouchedSince(version)
	c := Change{Version: touched.Version, Much: touched.Much, Frames: touched.Frames, Sittings: touched.Sittings}
	if err != nil || touched.Much {
		return c, err
	}
	marks, err := v.MarksAt(touched.Marks)
	if err != nil {
		return c, err
	}
	frames, err := v.FramesAt(touched.Frames)
	if err != nil {
		return c, err
	}
	days := dayset{keys: map[string]bool{}}
	for _, id := range touched.Marks {
		at := marks[id]
		days.add(at)
		if at.Gone {
			c.Gone = append(c.Gone, id)
		} else {
			c.Marks = append(c.Marks, id)
		}
	}
	for _, id := range touched.Frames {
		days.add(frames[id])
	}
	for _, id := range touched.Sittings {
		days.add(store.Whereabouts{Sitting: id})
	}
	c.Days, c.GoneDays, err = days.read(v)
	return c, err
}

// dayset gathers the days of what was touched.
type dayset struct {
	keys     map[string]bool
	sittings []catalog.SittingID
	frames   []catalog.FrameID
}

func (d *dayset) add(at store.Whereabouts) {
	key := keyOf(at.Sitting, at.Frame)
	switch {
	case d.keys[key]:
	case at.Sitting != 0:
		d.sittings = append(d.sittings, at.Sitting)
	default:
		d.frames = append(d.frames, at.Frame)
	}
	d.keys[key] = true
}

// read gives the days as they are now, and the keys of those that are none any more.
func (d *dayset) read(v *store.View) (days []Day, gone []string, err error) {
	lone, err := v.PicturesIn(d.frames)
	if err != nil {
		return nil, nil, err
	}
	c := chosen{sittings: d.sittings, lone: lone}
	for _, p := range lone {
		c.frames = append(c.frames, p.Frame)
	}
	if days, err = c.days(v); err != nil {
		return nil, nil, err
	}
	for _, day := range days {
		delete(d.keys, day.Key())
	}
	for key := range d.keys {
		gone = append(gone, key)
	}
	return days, gone, nil
}

// HasSitting says whether something about a sitting itself changed: its time, its place.
func (c Change) HasSitting(id catalog.SittingID) bool {
	return id != 0 && slices.Contains(c.Sittings, id)
}
