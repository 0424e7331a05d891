package observe

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"limbwatch/catalog"
)

// OddMark is a mark of a record about whose place something is odd, named as the record
// names it.
type OddMark struct {
	Kind catalog.Kind
	UTC  time.Time
	UUID uuid.UUID
	What string
}

func (o OddMark) String() string {
	return fmt.Sprintf("%s of %s, %s: %s", o.Kind, o.UTC.UTC().Format("2006-01-02 15:04:05 UTC"), o.UUID, o.What)
}

// SlipsError says that nothing of a record was kept, because it has marks that cannot be
// meant (see Plausible).
type SlipsError struct{ Merged Merged }

func (e *SlipsError) Error() string {
	first := e.Merged.Slips[0]
	if len(e.Merged.Slips) == 1 {
		return fmt.Sprintf("a mark of the record looks like a slip, so nothing was kept: %s", first)
	}
	return fmt.Sprintf("%d marks of the record look like slips, so nothing was kept; the first: %s", len(e.Merged.Slips), first)
}

// judge finds what is odd about the marks that the record brought. What stood here as it
// is was judged when it came.
func (m *merger) judge(force bool) error {
	var b catalog.Bearings
	for _, mark := range m.brought {
		if b.Frame.ID != mark.Frame {
			var err error
			if b, err = m.tx.Bearings(mark.Frame); err != nil {
				return err
			}
		}
		p := Derive(b, []catalog.Mark{mark})[0]
		odd := OddMark{Kind: mark.Kind, UTC: p.UTC, UUID: mark.UUID}
		if slip := Plausible(mark, p); slip != nil && !force {
			odd.What = slip.Error()
			m.done.Slips = append(m.done.Slips, odd)
		}
		if beyond := Hidden(mark, p); beyond > 0 {
			odd.What = beyond.String()
			m.done.Hidden = append(m.done.Hidden, odd)
		}
	}
	return nil
}
