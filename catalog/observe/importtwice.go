package observe

import (
	"fmt"
	"hash/maphash"
	"math"
	"time"

	"github.com/google/uuid"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// standing is what a catalogue held before an import, of the stretch of time that was
// asked for so far: from ≤ t < to. A row of the file takes away the mark that it is, so
// that true twins, which stand twice in a file, are counted as often as they stand.
type standing struct {
	marks    map[sameMark][]catalog.MarkID
	byUUID   map[uuid.UUID]catalog.MarkID
	gone     map[catalog.MarkID]bool // a row was found to be it
	from, to time.Time
}

// sameMark is what two marks have in common that are one thing written down twice: kind,
// millisecond, and figures to a billionth.
type sameMark struct {
	utc  int64
	kind catalog.Kind
	form byte // p polar, l by longitude, m from the meridian
	a, b int64
}

func sameMarkOf(utc time.Time, m catalog.Mark) (s sameMark, ok bool) {
	s.utc, s.kind = utc.Round(time.Millisecond).UnixMilli(), m.Kind
	fine := func(v float64) int64 { return int64(math.Round(v * 1e9)) }
	turn := func(a coords.Angle) int64 { return fine(a.Degrees()+720) % fine(360) }
	switch g := m.Geometry; g.Form() {
	case catalog.FormPlaces:
		place := g.Places[0]
		s.form, s.a, s.b = 'l', fine(place.B.Degrees()), turn(place.Lon)
		if place.ByCMD {
			s.form = 'm'
		}
	case catalog.FormPolar:
		point := g.Polar[len(g.Polar)/2]
		s.form, s.a, s.b = 'p', turn(point.PA), fine(point.R)
	default:
		return s, false
	}
	return s, true
}

// extend asks the catalogue for what was not asked yet of the stretch of time of some
// rows. The import's own marks, from first on, do not count.
func (s *standing) extend(tx *store.Tx, rows []importedMark, first catalog.MarkID) error {
	if len(rows) == 0 {
		return nil
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
	to = to.Add(time.Millisecond)
	if s.marks == nil {
		s.marks, s.byUUID, s.gone = map[sameMark][]catalog.MarkID{}, map[uuid.UUID]catalog.MarkID{}, map[catalog.MarkID]bool{}
		s.from, s.to = from, from
	}
	for _, part := range [][2]time.Time{{from, s.from}, {s.to, to}} {
		if !part[0].Before(part[1]) {
			continue
		}
		err := tx.EachMark(part[0], part[1], func(utc time.Time, m catalog.Mark) error {
			if first != 0 && m.ID >= first {
				return nil
			}
			if same, ok := sameMarkOf(utc, m); ok {
				s.marks[same] = append(s.marks[same], m.ID)
			}
			s.byUUID[m.UUID] = m.ID
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

// take finds the mark that a row is, which then is no other row's; false when the row is
// new.
func (s *standing) take(m importedMark) (catalog.MarkID, bool) {
	if id, ok := s.byUUID[m.uuid]; ok && !s.gone[id] {
		s.gone[id] = true
		return id, true
	}
	same, ok := sameMarkOf(m.utc, m.mark)
	if !ok {
		return 0, false
	}
	for left := s.marks[same]; len(left) > 0; {
		id := left[0]
		left = left[1:]
		s.marks[same] = left
		if !s.gone[id] {
			s.gone[id] = true
			return id, true
		}
	}
	return 0, false
}

// twinOf is the line of the file in which a row stands a first time.
type twinOf int

func (t twinOf) String() string {
	return fmt.Sprintf("the same kind, time and place as in line %d: both are kept", int(t))
}

// firsts remembers where in a file each mark stood first, by hashes: a file may be long.
type firsts struct {
	seed  maphash.Seed
	lines map[uint64]int
}

// twin gives the line of an earlier row that is the same mark, 0 when there is none.
func (f *firsts) twin(m importedMark) twinOf {
	same, ok := sameMarkOf(m.utc, m.mark)
	if !ok {
		return 0
	}
	if f.lines == nil {
		f.seed, f.lines = maphash.MakeSeed(), map[uint64]int{}
	}
	h := maphash.Comparable(f.seed, same)
	line, there := f.lines[h]
	if !there {
		f.lines[h] = m.line
	}
	return twinOf(line)
}
