package observe

import (
	"context"
	"fmt"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// DayCounts are what an observer counted on a day, as typed from paper.
//
//	Day            the UT day, at 0h
//	Sitting        zero: the day's sitting of the circumstances, or a new one
//	Counts         without their sitting; each takes the place of what stood there
//	Without        counts to be taken away again
//	At             when it was seen; zero: not known
//	Seeing, Transparency, Note  nil: as they were
type DayCounts struct {
	Day                  time.Time
	Sitting              catalog.SittingID
	Circumstances        Circumstances
	Counts               []catalog.Count
	Without              []catalog.Tally
	At                   time.Time
	Seeing, Transparency *catalog.Rating
	Note                 *string
}

// SeveralSittingsError says that a day has several sittings of the same
// circumstances, so that one must be named.
type SeveralSittingsError struct {
	Day      time.Time
	Sittings []catalog.SittingID
}

func (e *SeveralSittingsError) Error() string {
	names := make([]string, len(e.Sittings))
	for i, id := range e.Sittings {
		names[i] = id.String()
	}
	return fmt.Sprintf("%d sittings on %s: %s", len(e.Sittings), e.Day.Format(time.DateOnly), strings.Join(names, ", "))
}

// LogDay keeps the counts of a day as one operation. What was counted was looked
// for: the sitting says so from then on. Errors: *SeveralSittingsError.
func (k Keeper) LogDay(ctx context.Context, d DayCounts) (sitting catalog.Sitting, kept []catalog.Count, err error) {
	title := "log day " + d.Day.Format(time.DateOnly)
	err = k.update(ctx, title, func(tx *store.Tx) (err error) {
		if sitting, err = d.sitting(tx); err != nil {
			return err
		}
		tx.SetTitle("%s %s", title, sitting.ID)
		if kept, err = d.keep(tx, sitting.ID); err != nil {
			return err
		}
		d.describe(&sitting, kept)
		if sitting, err = tx.EditSitting(sitting); err != nil {
			return err
		}
		return d.keepInstant(tx, sitting.ID)
	})
	return sitting, kept, err
}

// sitting finds the sitting that the counts belong to, or begins it.
func (d DayCounts) sitting(tx *store.Tx) (catalog.Sitting, error) {
	if d.Sitting != 0 {
		s, err := tx.Sitting(d.Sitting)
		if err == nil && !s.Day.Equal(d.Day) {
			err = &store.InvalidError{Err: fmt.Errorf("sitting %s is of %s, not of %s", s.ID, s.Day.Format(time.DateOnly), d.Day.Format(time.DateOnly))}
		}
		return s, err
	}
	c, err := d.Circumstances.filled(&tx.View)
	if err != nil {
		return catalog.Sitting{}, err
	}
	all, err := tx.SittingsBetween(d.Day, d.Day)
	if err != nil {
		return catalog.Sitting{}, err
	}
	several := &SeveralSittingsError{Day: d.Day}
	var found catalog.Sitting
	for _, s := range all {
		if s.Observer == c.Observer && s.Setup == c.Setup && s.Site == c.Site {
			found, several.Sittings = s, append(several.Sittings, s.ID)
		}
	}
	switch len(several.Sittings) {
	case 0:
		return tx.AddSitting(catalog.Sitting{Observer: c.Observer, Setup: c.Setup, Site: c.Site, Day: d.Day})
	case 1:
		return found, nil
	}
	return catalog.Sitting{}, several
}

// keep writes the counts, and gives all that the sitting then has.
func (d DayCounts) keep(tx *store.Tx, id catalog.SittingID) ([]catalog.Count, error) {
	present, err := tx.CountsOf(id)
	if err != nil {
		return nil, err
	}
	stood := map[catalog.Tally]catalog.Count{}
	for _, c := range present {
		stood[c.Tally] = c
	}
	for _, tally := range d.Without {
		if c, ok := stood[tally]; ok {
			if err := tx.RemoveCount(c.ID, c.Revision); err != nil {
				return nil, err
			}
		}
	}
	for _, c := range d.Counts {
		c.Sitting, c.ID, c.Record = id, stood[c.Tally].ID, stood[c.Tally].Record
		if _, err := tx.SetCount(c); err != nil {
			return nil, err
		}
	}
	return tx.CountsOf(id)
}

// describe puts into the sitting what came with the counts. A kind that was counted
// was looked for; none of it seen is said only when nothing of it was counted.
func (d DayCounts) describe(s *catalog.Sitting, counts []catalog.Count) {
	looked := map[catalog.Kind]catalog.Look{}
	for kind, look := range s.Looked {
		looked[kind] = look
	}
	seen := map[catalog.Kind]int{}
	for _, c := range counts {
		seen[c.Tally.Kind()] += c.Total
	}
	for kind, n := range seen {
		looked[kind] = catalog.LookedFor
		if n == 0 {
			looked[kind] = catalog.NoneSeen
		}
	}
	if len(looked) > 0 {
		s.Looked = looked
	}
	if d.Seeing != nil {
		s.Seeing = *d.Seeing
	}
	if d.Transparency != nil {
		s.Transparency = *d.Transparency
	}
	if d.Note != nil {
		s.Note = *d.Note
	}
}

// keepInstant keeps when it was seen, as a frame without a picture.
func (d DayCounts) keepInstant(tx *store.Tx, id catalog.SittingID) error {
	if d.At.IsZero() {
		return nil
	}
	frames, err := tx.FramesOf(id)
	if err != nil {
		return err
	}
	for _, f := range frames {
		if f.Taken.Equal(d.At) {
			return nil
		}
	}
	_, err = tx.AddFrame(catalog.Frame{Sitting: id, Taken: d.At, Moment: catalog.MomentMiddle, TimeSource: "typed", Zone: "UTC"})
	return err
}
