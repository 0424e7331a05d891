package store

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"limbwatch/catalog"
)

// Fault is something in a catalogue that should not be.
//
//	Thing  what it is about: "mark M12", or "file"
//	Says   what is wrong with it
type Fault struct{ Thing, Says string }

// faultsEach is how many of one kind are listed; there may be a million.
const faultsEach = 20

// checker gathers faults.
type checker struct {
	*View
	derive Deriver
	found  []Fault
	step   func(done, total int)
}

// Check looks through all of a catalogue and gives what is wrong with it: pages that do
// not hold together, rows that name what is not there, rows in sight that hang on rows
// out of sight, and what is derived computed anew and compared (positions unless
// comparePositions is false, for those of another way of deriving). A million marks on
// a hundred thousand frames take some forty seconds of a core. step, which may be nil,
// hears how many frames were gone through.
func (s *Store) Check(ctx context.Context, comparePositions bool, step func(done, total int)) ([]Fault, error) {
	if step == nil {
		step = func(int, int) {}
	}
	var found []Fault
	err := s.View(ctx, func(v *View) error {
		c := &checker{View: v, derive: s.derive, step: step}
		defer func() { found = c.found }()
		if err := c.pages(); err != nil || len(c.found) > 0 {
			return err // what follows would be read from them
		}
		if err := c.orphans(); err != nil {
			return err
		}
		return c.derived(comparePositions)
	})
	if damaged, ok := errors.AsType[*DamagedError](err); ok {
		return append(found, Fault{"file", damaged.Error()}), nil
	}
	return found, err
}

func (c *checker) fault(thing, format string, args ...any) {
	c.found = append(c.found, Fault{thing, fmt.Sprintf(format, args...)})
}

// pages asks SQLite whether the file holds together.
func (c *checker) pages() error {
	return c.each("PRAGMA integrity_check(20)", nil, func(scan scanner) error {
		var says string
		err := scan(&says)
		if says != "ok" {
			c.fault("file", "%s", strings.ReplaceAll(says, "\n", "; "))
		}
		return err
	})
}

// orphans finds rows that name others that are not there, or not in sight.
func (c *checker) orphans() error {
	err := c.each("SELECT \"table\", rowid, parent FROM pragma_foreign_key_check LIMIT 20", nil, func(scan scanner) error {
		var child, parent string
		var id int64
		err := scan(&child, &id, &parent)
		c.fault(thingOf(child, id), "names something of %s that is not there", parent)
		return err
	})
	if err != nil {
		return err
	}
	for _, name := range slices.Sorted(maps.Keys(tables)) {
		t := tables[name]
		for _, ref := range t.refs {
			parent := tables[ref.table]
			err := c.pairs(fmt.Sprintf("SELECT c.id, p.id FROM %[2]s c JOIN %[3]s p ON p.id = c.%[1]s WHERE c.removed = 0 AND p.removed = 1",
				ref.column, t.name, parent.name), func(id, of int64) {
				c.fault(thingOf(t.name, id), "hangs on %s, which was removed", thingOf(parent.name, of))
			})
			if err != nil {
				return err
			}
		}
		err := c.pairs(fmt.Sprintf("SELECT id, operation_id FROM %s WHERE operation_id NOT IN (SELECT id FROM operations)", t.name), func(id, op int64) {
			c.fault(thingOf(t.name, id), "was last changed by %s, which the history does not have", catalog.OperationID(op))
		})
		if err != nil {
			return err
		}
	}
	if err := c.pairs("SELECT id, 0 FROM marks WHERE removed = 0 AND id NOT IN (SELECT mark_id FROM positions)", func(id, _ int64) {
		c.fault(thingOf("marks", id), "has no row among the positions")
	}); err != nil {
		return err
	}
	return c.pairs("SELECT mark_id, 0 FROM positions WHERE mark_id NOT IN (SELECT id FROM marks WHERE removed = 0)", func(id, _ int64) {
		c.fault(thingOf("marks", id), "has a position, and was removed")
	})
}

func (c *checker) pairs(query string, fn func(a, b int64)) error {
	return c.each(fmt.Sprintf("%s LIMIT %d", query, faultsEach), nil, func(scan scanner) error {
		var a, b int64
		err := scan(&a, &b)
		fn(a, b)
		return err
	})
}

func thingOf(name string, id int64) string {
	if t := tables[name]; t != nil {
		return t.noun + " " + t.shortID(id)
	}
	return fmt.Sprintf("row %d of %s", id, name)
}

// derived computes anew what follows from the rest, some hundred frames at a time.
func (c *checker) derived(comparePositions bool) error {
	var last int64
	if err := c.q.QueryRowContext(c.ctx, "SELECT coalesce(max(id), 0) FROM frames").Scan(&last); err != nil {
		return asBusy(err)
	}
	const chunk = 500
	for s := (span{1, chunk}); s[0] <= last; s = (span{s[0] + chunk, s[1] + chunk}) {
		if err := c.derivedIn(s, comparePositions); err != nil {
			return err
		}
		c.step(int(min(s[1], last)), int(last))
	}
	return nil
}

func (c *checker) derivedIn(s span, comparePositions bool) error {
	all, err := c.bearings("f.id BETWEEN ? AND ?", s[0], s[1])
	if err != nil {
		return err
	}
	for _, b := range all {
		var kept string
		if err := c.q.QueryRowContext(c.ctx, "SELECT middle_utc FROM frames WHERE id = ?", int64(b.Frame.ID)).Scan(&kept); err != nil {
			return asBusy(err)
		}
		if want := instant(b.Frame.Middle(b.ClockCorrectionS)); kept != want {
			c.fault("frame "+b.Frame.ID.String(), "its middle is kept as %s, and comes out as %s", kept, want)
		}
	}
	if !comparePositions {
		return nil
	}
	marksOn, err := find(c.View, &marks, "t.frame_id BETWEEN ? AND ? ORDER BY t.frame_id, t.id", s[0], s[1])
	if err != nil {
		return err
	}
	const these = "(SELECT id FROM marks WHERE removed = 0 AND frame_id BETWEEN ? AND ?)"
	heights, err := c.passageHeights(these, s)
	if err != nil {
		return err
	}
	kept, err := c.stoodAt(these, s)
	if err != nil {
		return err
	}
	for _, b := range all {
		n := 0
		for n < len(marksOn) && marksOn[n].Frame == b.Frame.ID {
			if h, ok := heights[marksOn[n].ID]; ok && marksOn[n].Height == nil {
				marksOn[n].Height = &h
			}
			n++
		}
		for _, p := range c.derive(b, marksOn[:n]) {
			if stood, ok := kept[p.Mark]; ok {
				c.compare(p.Mark, stood, positionValues(p))
			}
		}
		marksOn = marksOn[n:]
	}
	return nil
}

// sameWithin is how far a figure may differ that was computed anew, of itself or of one:
// the last digits hang on the machine. The smallest error that is printed is 0.01°.
const sameWithin = 1e-6

func (c *checker) compare(id catalog.MarkID, kept, anew []any) {
	for i, column := range positionColumns {
		was, isNumber := number64(kept[i])
		now, alsoNumber := number64(anew[i])
		switch {
		case isNumber && alsoNumber:
			off := math.Abs(was - now)
			if strings.HasSuffix(column, "lon_deg") {
				off = math.Abs(math.Remainder(was-now, 360))
			}
			if off <= sameWithin*max(1, math.Abs(now)) {
				continue
			}
		case kept[i] == anew[i]:
			continue
		}
		c.fault("mark "+id.String(), "%s is kept as %v, and comes out as %v", column, kept[i], anew[i])
		return
	}
}

func number64(v any) (float64, bool) {
	switch v := v.(type) {
	case float64:
		return v, true
	case int64:
		return float64(v), true
	}
	return 0, false
}
