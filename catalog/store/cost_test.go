package store

import (
	"context"
	"database/sql"
	"regexp"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
)

// growing are the tables that grow with the years. None of what a screen asks may go
// through all rows of one, whatever SQLite thinks of their number.
var growing = regexp.MustCompile(`^SCAN (t|f|p|j|j2|m|d|n|o|pa|w|marks|frames|positions|joins|passages|operations|discs|norths|sittings|s|l|links|warnings)\b`)

// planned asks a database for the plan of every query that goes through it.
type planned struct {
	querier
	t     *testing.T
	ctx   context.Context
	asked map[string]bool
}

func (p planned) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	p.look(query, args)
	return p.querier.QueryContext(ctx, query, args...)
}

func (p planned) QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row {
	p.look(query, args)
	return p.querier.QueryRowContext(ctx, query, args...)
}

func (p planned) look(query string, args []any) {
	if p.asked[query] || strings.HasPrefix(query, "PRAGMA") {
		return
	}
	p.asked[query] = true
	lines, err := p.querier.QueryContext(p.ctx, "EXPLAIN QUERY PLAN "+query, args...)
	require.NoError(p.t, err, query)
	defer lines.Close()
	for lines.Next() {
		var id, parent, unused int
		var what string
		require.NoError(p.t, lines.Scan(&id, &parent, &unused, &what))
		// They end when enough was read.
		bounded := strings.Contains(what, "USING INDEX frames_pictured") || strings.HasSuffix(query, "LIMIT ?")
		assert.False(p.t, growing.MatchString(what) && !bounded, "%s\n%s", what, query)
	}
	require.NoError(p.t, lines.Err())
}

// What the page and the everyday commands ask is found by an index.
func TestWhatAScreenAsksIsFoundByAnIndex(t *testing.T) {
	s := open(t)
	sample(t, s)
	ctx := context.Background()
	v := &View{ctx: ctx, q: planned{s.read, t, ctx, map[string]bool{}}}
	from, to := noon.AddDate(0, 0, -3), noon.AddDate(0, 0, 3)
	must := func(_ any, err error) { t.Helper(); require.NoError(t, err) }
	all := func(Pictured) bool { return true }
	require.NoError(t, v.PicturesBefore(to, all))
	require.NoError(t, v.PicturesFrom(from, all))
	must(v.PicturesOf([]catalog.SittingID{1, 2}))
	must(v.PicturesIn([]catalog.FrameID{1, 2}))
	must(v.Dots([]catalog.SittingID{1, 2}, []catalog.FrameID{1, 2}))
	must(v.Traces(from, to))
	must(v.ProposedJoins([]catalog.MarkID{1, 2}))
	must(v.OpenWarningsOf([]catalog.FrameID{1, 2}))
	must(v.WarningsOfAll([]catalog.FrameID{1, 2}))
	must(v.DiscsOf([]catalog.FrameID{1, 2}))
	must(v.NorthsOf([]catalog.FrameID{1, 2}))
	must(v.SittingsOf([]catalog.SittingID{1, 2}))
	must(v.LinksFrom([]catalog.PassageID{1, 2}))
	must(v.PassagesOf([]catalog.PassageID{1, 2}))
	must(v.Newest())
	must(v.TouchedSince(0))
	must(v.MarksAt([]catalog.MarkID{1, 2}))
	must(v.FramesAt([]catalog.FrameID{1, 2}))
	must(v.PassagesSeen(Query{From: from, To: to}))
	require.NoError(t, v.EachPassing([]catalog.PassageID{1, 2}, false, func(Passing) error { return nil }))
	must(v.Bearings(1))
	must(v.BearingsOf([]catalog.FrameID{1, 2}))
	must(v.BearingsOfSitting(1))
	must(v.BearingsBetween(from, to))
	must(v.FramesBetween(from, to))
	must(v.FramesOf(1))
	must(v.WarningsOf(1))
	must(v.JoinsOf(1))
	must(v.JoinsTo(1))
	must(v.LinksOf(1))
	must(v.Passage(1))
	must(v.PassageNamed("Alder"))
	must(v.Sitting(1))
	must(v.Mark(1))
	must(v.Position(1))
	must(v.History("", 20))
	must(v.History(catalog.Terminal, 20))
	for _, q := range []Query{
		{From: from, To: to}, {From: from, To: to, Kinds: []catalog.Kind{catalog.Filament, catalog.Prominence}},
		{Frame: 1}, {Sitting: 1, References: true}, {Marks: []catalog.MarkID{1, 2}, References: true}, {Passage: 1},
	} {
		must(v.Entries(q))
	}
	for _, q := range []Query{{From: from, To: to}, {From: from, To: to, Kinds: []catalog.Kind{catalog.Filament}}} {
		require.NoError(t, v.EachSighted(q, func(Sighted) error { return nil }))
		must(v.Glimpses(q))
	}
	must(v.UnmadeJoinsBetween(from, to))
}

// What a change puts right in what is derived it finds by an index too.
func TestWhatAChangeTouchesIsFoundByAnIndex(t *testing.T) {
	s := open(t)
	sample(t, s)
	asked := map[string]bool{}
	change := func(fn func(tx *Tx) error) {
		t.Helper()
		var seen *Tx
		update(t, s, func(tx *Tx) error {
			seen = tx
			return fn(tx)
		})
		for query := range seen.statements {
			asked[query] = true
		}
	}
	var m catalog.Mark
	change(func(tx *Tx) (err error) {
		m, err = tx.Mark(1)
		require.NoError(t, err)
		m.ID, m.UUID = 0, uuid.Nil
		m, err = tx.AddMark(m)
		return err
	})
	change(func(tx *Tx) (err error) {
		m.Note = "seen again"
		m, err = tx.EditMark(m)
		return err
	})
	var j catalog.Join
	change(func(tx *Tx) (err error) {
		j, err = tx.AddJoin(catalog.Join{Mark: m.ID, Passage: 1, State: catalog.Made, By: catalog.ByObserver})
		return err
	})
	change(func(tx *Tx) error { return tx.RemoveJoin(j.ID, Newest) })
	change(func(tx *Tx) error { return tx.RemoveMark(m.ID, Newest) })
	change(func(tx *Tx) error {
		f, err := tx.Frame(1)
		require.NoError(t, err)
		f.Note = "with cloud"
		_, err = tx.EditFrame(f)
		return err
	})
	change(func(tx *Tx) error {
		b, err := tx.Bearings(1)
		require.NoError(t, err)
		b.Disc.Accepted = true
		_, err = tx.SetDisc(*b.Disc)
		return err
	})
	require.Greater(t, len(asked), 10)
	update(t, s, func(tx *Tx) error {
		p := planned{tx.sql, t, context.Background(), map[string]bool{}}
		for query := range asked {
			if !strings.HasPrefix(query, "CREATE") {
				p.look(query, make([]any, strings.Count(query, "?")))
			}
		}
		return nil
	})
}
