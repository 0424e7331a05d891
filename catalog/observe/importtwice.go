package observe

import (
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// standing is what a catalogue held before an import, of the stretch of time that was
// asked for so far: from ≤ t < to.
type standing struct {
	marks    map[sameMark]bool
	from, to time.Time
}

// sameMark is what two marks have in common that are one thing written down twice.
type sameMark struct {
	utc   time.Time
	kind  catalog.Kind
	place catalog.PlacePoint
	polar catalog.PolarPoint
}

func sameMarkOf(utc time.Time, m catalog.Mark) (s sameMark, ok bool) {
	s.utc, s.kind = utc.UTC(), m.Kind
	switch m.Geometry.Form() {
	case catalog.FormPlaces:
		s.place = m.Geometry.Places[0]
	case catalog.FormPolar:
		s.polar = m.Geometry.Polar[0]
	default:
		return s, false
	}
	return s, true
}

// count tells how many of some rows stood in the catalogue before the import, of which
// first is the first mark, or zero.
func (s *standing) count(tx *store.Tx, rows []importedMark, first catalog.MarkID) (twice int, err error) {
	if len(rows) == 0 {
		return 0, nil
	}
	from, to := rows[0].utc, rows[0].utc
	for _, m := range rows {
		if m.utc.Before(from) {
			from = m.utc
		}
		if m.utc.After(to) {
			to = m.utc
		}
	}
	if err := s.extend(tx, from, to.Add(time.Millisecond), first); err != nil {
		return 0, err
	}
	for _, m := range rows {
		if same, ok := sameMarkOf(m.utc, m.mark); ok && s.marks[same] {
			twice++
		}
	}
	return twice, nil
}

// extend asks the catalogue for what was not asked yet of a stretch of time.
func (s *standing) extend(tx *store.Tx, from, to time.Time, first catalog.MarkID) error {
	if s.marks == nil {
		s.marks, s.from, s.to = map[sameMark]bool{}, from, from
	}
	for _, part := range [][2]time.Time{{from, s.from}, {s.to, to}} {
		if !part[0].Before(part[1]) {
			continue
		}
		err := tx.EachEntry(store.Query{From: part[0], To: part[1], References: true}, func(e catalog.Entry) error {
			if same, ok := sameMarkOf(e.Position.UTC, e.Mark); ok && (first == 0 || e.Mark.ID < first) {
				s.marks[same] = true
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	if from.Before(s.from) {
		s.from = from
	}
	if to.After(s.to) {
		s.to = to
	}
	return nil
}
