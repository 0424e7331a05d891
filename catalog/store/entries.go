package store

import (
	"database/sql"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"limbwatch/catalog"
)

// Query chooses entries of the log; a zero field chooses all.
//
//	From, To    instants, From ≤ t < To
//	Kinds       any of these
//	Marks, Frame, Sitting, Passage, Label  just these; Label is the label or an alias
//	References  marks on reference frames too, which are not one's own observation
type Query struct {
	From, To   time.Time
	Kinds      []catalog.Kind
	Marks      []catalog.MarkID
	Frame      catalog.FrameID
	Sitting    catalog.SittingID
	Passage    catalog.PassageID
	Label      string
	References bool
}

// where is the query as a condition on marks t and frames f.
func (q Query) where() (condition string, args []any) {
	parts := []string{"t.removed = 0 AND f.removed = 0"}
	add := func(part string, values ...any) {
		parts, args = append(parts, part), append(args, values...)
	}
	if !q.From.IsZero() {
		add("f.middle_utc >= ?", instant(q.From))
	}
	if !q.To.IsZero() {
		add("f.middle_utc < ?", instant(q.To))
	}
	if len(q.Kinds) > 0 {
		names := make([]any, len(q.Kinds))
		for i, k := range q.Kinds {
			names[i] = k.String()
		}
		add("t.kind IN "+placeholders(1, len(names)), names...)
	}
	if len(q.Marks) > 0 {
		ids := make([]any, len(q.Marks))
		for i, id := range q.Marks {
			ids[i] = int64(id)
		}
		add("t.id IN "+placeholders(1, len(ids)), ids...)
	}
	if q.Frame != 0 {
		add("t.frame_id = ?", int64(q.Frame))
	}
	if q.Sitting != 0 {
		add("f.sitting_id = ?", int64(q.Sitting))
	}
	if q.Passage != 0 {
		add("j.passage_id = ?", int64(q.Passage))
	}
	if q.Label != "" {
		add("(t.label = ? OR EXISTS (SELECT 1 FROM json_each(t.aliases) WHERE value = ?))", q.Label, q.Label)
	}
	if !q.References {
		add("f.reference = 0")
	}
	return strings.Join(parts, " AND "), args
}

// EachEntry gives fn the entries that a query chooses, in the order of time, one
// after the other; an error from fn ends it.
func (v *View) EachEntry(q Query, fn func(catalog.Entry) error) error {
	condition, args := q.where()
	r := newEntryReader()
	return v.each("SELECT "+
		marks.selection("t")+", "+frames.selection("f")+", "+positionSelection("p")+","+
		" "+joinSelection+", o.name, "+openWords+
		" FROM marks t JOIN frames f ON f.id = t.frame_id"+
		" LEFT JOIN positions p ON p.mark_id = t.id"+
		" LEFT JOIN joins j ON j.mark_id = t.id AND j.removed = 0 AND j.state = 'made'"+
		" LEFT JOIN passages pa ON pa.id = j.passage_id"+
		" LEFT JOIN observers o ON o.id = t.observer_id"+
		" WHERE "+condition+" ORDER BY f.middle_utc, f.id, t.id", args,
		func(scan scanner) error {
			e, err := r.read(scan)
			if err != nil {
				return err
			}
			return fn(e)
		})
}

// Entries lists the entries that a query chooses, in the order of time.
func (v *View) Entries(q Query) (entries []catalog.Entry, err error) {
	err = v.EachEntry(q, func(e catalog.Entry) error {
		entries = append(entries, e)
		return nil
	})
	return entries, err
}

// entryReader reads entries row by row; what may be missing of them is scanned to the
// same place each time.
type entryReader struct {
	place    nullPosition
	join     nullJoin
	observer sql.Null[string]
	warnings string
	targets  []any
}

func newEntryReader() *entryReader {
	r := new(entryReader)
	r.targets = append(append(r.place.targets(), r.join.targets()...), &r.observer, &r.warnings)
	return r
}

// read reads mark, frame, position and join from one row: each noun gathers its
// targets, the innermost fills them all.
func (r *entryReader) read(scan scanner) (e catalog.Entry, err error) {
	e.Mark, err = marks.scan(func(ofMark ...any) (err error) {
		e.Frame, err = frames.scan(func(ofFrame ...any) error {
			return scan(slices.Concat(ofMark, ofFrame, r.targets)...)
		})
		return err
	})
	if err != nil {
		return e, err
	}
	if e.Position, err = r.place.position(e.Mark.ID); err != nil {
		return e, err
	}
	e.Observer = r.observer.V
	e.Join, e.PassageName, err = r.join.join(e.Mark.ID)
	e.Warnings = r.warnings
	return e, err
}

// openWords are the words of the frame's warnings that nobody has settled.
const openWords = "coalesce((SELECT group_concat(w.words, '; ') FROM warnings w" +
	" WHERE w.frame_id = t.frame_id AND w.removed = 0 AND w.settled_utc IS NULL), '')"

// nullJoin scans a join that may be missing, with the passage's name.
type nullJoin struct {
	id, revision, passage           sql.Null[int64]
	identity                        uuid.NullUUID
	state, voice, note, passageName sql.Null[string]
	odds                            sql.Null[float64]
}

const joinSelection = "j.id, j.uuid, j.revision, j.passage_id, j.state, j.voice, j.odds, j.note, pa.name"

func (n *nullJoin) targets() []any {
	return []any{&n.id, &n.identity, &n.revision, &n.passage, &n.state, &n.voice, &n.odds, &n.note, &n.passageName}
}

func (n *nullJoin) join(mark catalog.MarkID) (*catalog.Join, string, error) {
	if !n.id.Valid {
		return nil, "", nil
	}
	state, by, err := verdict(n.state.V, n.voice.V)
	return &catalog.Join{
		Record: catalog.Record{UUID: n.identity.UUID, Revision: n.revision.V},
		ID:     catalog.JoinID(n.id.V), Mark: mark, Passage: catalog.PassageID(n.passage.V),
		State: state, By: by, Odds: number(n.odds), Note: n.note.V,
	}, n.passageName.V, err
}
