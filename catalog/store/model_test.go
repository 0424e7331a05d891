package store

import (
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/testdata"
)

// thing is a row as the model knows it: its short id, what is noted of it, and on which
// frame it hangs, if on one.
type thing struct{ id, note, on string }

// model says what must be visible after any history, by the simplest rule there is: each
// row is a pile of the operations that stand on it, and shows what the uppermost made of
// it. An operation may be taken off only where it lies on top, and laid back only where
// the one lies on top on which it once was laid.
type model struct {
	piles      map[string][]int64 // by id; empty: the row is not there
	effects    map[int64][]effect
	undo, redo map[catalog.Origin][]int64
}

// effect is what an operation does to a row; after is nil where it takes it away.
type effect struct {
	id    string
	below int64 // on top when it was done first; 0: nothing
	after *thing
}

func newModel() *model {
	return &model{map[string][]int64{}, map[int64][]effect{}, map[catalog.Origin][]int64{}, map[catalog.Origin][]int64{}}
}

// visible is what must be in sight.
func (m *model) visible() map[string]thing {
	seen := map[string]thing{}
	for id, pile := range m.piles {
		if len(pile) == 0 {
			continue
		}
		for _, e := range m.effects[pile[len(pile)-1]] {
			if e.id == id && e.after != nil {
				seen[id] = *e.after
			}
		}
	}
	return seen
}

// holds says whether nothing in sight hangs on what is not, and no observer's name is
// there twice.
func (m *model) holds() bool {
	seen, names := m.visible(), map[string]bool{}
	for id, t := range seen {
		if _, there := seen[t.on]; t.on != "" && !there {
			return false
		}
		if id[0] == 'O' && names[t.note] {
			return false
		}
		names[t.note] = names[t.note] || id[0] == 'O'
	}
	return true
}

func (m *model) did(origin catalog.Origin, op int64, effects []effect) {
	for i, e := range effects {
		effects[i].below = m.top(e.id)
		m.piles[e.id] = append(m.piles[e.id], op)
	}
	m.effects[op] = effects
	m.undo[origin], m.redo[origin] = append(m.undo[origin], op), nil
}

func (m *model) top(id string) int64 {
	if pile := m.piles[id]; len(pile) > 0 {
		return pile[len(pile)-1]
	}
	return 0
}

// step goes one back, or one on; false: it must be refused, and nothing happens.
func (m *model) step(origin catalog.Origin, back bool) (op int64, ok bool) {
	from, to := m.undo, m.redo
	if !back {
		from, to = to, from
	}
	n := len(from[origin])
	if n == 0 {
		return 0, false
	}
	op = from[origin][n-1]
	before := map[string][]int64{}
	ok = true
	for _, e := range m.effects[op] {
		pile := m.piles[e.id]
		before[e.id] = pile
		switch {
		case back && m.top(e.id) == op:
			m.piles[e.id] = pile[: len(pile)-1 : len(pile)-1]
		case !back && m.top(e.id) == e.below:
			m.piles[e.id] = append(slices.Clone(pile), op)
		default:
			ok = false
		}
	}
	if !ok || !m.holds() {
		maps.Copy(m.piles, before)
		return op, false
	}
	from[origin], to[origin] = from[origin][:n-1], append(to[origin], op)
	return op, true
}

// seen is what the catalogue shows.
func seen(t testing.TB, s *Store) map[string]thing {
	t.Helper()
	all := map[string]thing{}
	require.NoError(t, s.View(ctx, func(v *View) error {
		observers, err := v.Observers()
		require.NoError(t, err)
		for _, o := range observers {
			all[o.ID.String()] = thing{o.ID.String(), o.Name, ""}
		}
		frames, err := find(v, &frames, "1")
		require.NoError(t, err)
		for _, f := range frames {
			all[f.ID.String()] = thing{f.ID.String(), f.Note, ""}
		}
		marks, err := find(v, &marks, "1")
		require.NoError(t, err)
		for _, m := range marks {
			all[m.ID.String()] = thing{m.ID.String(), m.Note, m.Frame.String()}
		}
		return nil
	}))
	return all
}

// player changes observers, frames and marks at random, and says what became of each.
type player struct {
	*rand.Rand
	known map[string]bool // every id that there ever was
}

func (p *player) word() string { return fmt.Sprint("word ", p.IntN(40)) }

// change does one to three things to rows in sight and notes their last state in done.
func (p *player) change(tx *Tx, done map[string]*thing) error {
	for range 1 + p.IntN(3) {
		observers, err := tx.Observers()
		if err != nil {
			return err
		}
		frames, err := find(&tx.View, &frames, "1 ORDER BY t.id")
		if err != nil {
			return err
		}
		marks, err := find(&tx.View, &marks, "1 ORDER BY t.id")
		if err != nil {
			return err
		}
		crowded := len(observers)+len(frames)+len(marks) > 12
		switch what := p.IntN(9); {
		case what == 0 && !crowded:
			o, err := tx.AddObserver(catalog.Observer{Name: p.word()})
			if err != nil {
				return err
			}
			done[o.ID.String()] = &thing{o.ID.String(), o.Name, ""}
		case what == 1 && len(observers) > 0:
			o := observers[p.IntN(len(observers))]
			stood := o.Revision
			o.Name = p.word()
			if o, err = tx.EditObserver(o); err != nil {
				return err
			}
			if o.Revision != stood {
				done[o.ID.String()] = &thing{o.ID.String(), o.Name, ""}
			}
		case what == 2 && len(observers) > 0:
			o := observers[p.IntN(len(observers))]
			if err := tx.RemoveObserver(o.ID, Newest); err != nil {
				return err
			}
			done[o.ID.String()] = nil
		case what == 3 && !crowded:
			f := frameAt(noon)
			f.Note = p.word()
			if f, err = tx.AddFrame(f); err != nil {
				return err
			}
			done[f.ID.String()] = &thing{f.ID.String(), f.Note, ""}
		case what == 4 && len(frames) > 0:
			f := frames[p.IntN(len(frames))]
			if err := tx.RemoveFrame(f.ID, Newest); err != nil {
				return err
			}
			done[f.ID.String()] = nil
		case what <= 6 && len(frames) > 0 && !crowded:
			m := placeMark(frames[p.IntN(len(frames))].ID, 10, 20)
			m.Note = p.word()
			if m, err = tx.AddMark(m); err != nil {
				return err
			}
			done[m.ID.String()] = &thing{m.ID.String(), m.Note, m.Frame.String()}
		case what == 7 && len(marks) > 0:
			m := marks[p.IntN(len(marks))]
			stood := m.Revision
			m.Note = p.word()
			if m, err = tx.EditMark(m); err != nil {
				return err
			}
			if m.Revision != stood {
				done[m.ID.String()] = &thing{m.ID.String(), m.Note, m.Frame.String()}
			}
		case len(marks) > 0:
			m := marks[p.IntN(len(marks))]
			if err := tx.RemoveMark(m.ID, Newest); err != nil {
				return err
			}
			done[m.ID.String()] = nil
		}
	}
	return nil
}

// Random histories of three origins show what the model says that they must, at every step.
func TestRandomHistoriesShowWhatAModelSays(t *testing.T) {
	steps := 400
	if testdata.Long() {
		steps = 10_000
	}
	s := open(t)
	m := newModel()
	p := &player{rand.New(rand.NewPCG(1610, 1128)), map[string]bool{}}
	origins := []catalog.Origin{catalog.Terminal, catalog.Desk("a"), catalog.Desk("b")}
	did := map[string]int{}
	for step := range steps {
		origin := origins[p.IntN(len(origins))]
		var what string
		switch n := p.IntN(20); {
		case n < 9:
			what = "do"
			done := map[string]*thing{}
			op, err := s.Update(ctx, at(origin), func(tx *Tx) error { return p.change(tx, done) })
			if err != nil {
				_, taken := errors.AsType[*TakenError](err)
				require.True(t, taken || refusal(err), "step %d: %v", step, err)
				what = "do, refused"
				break
			}
			var effects []effect
			for _, id := range slices.Sorted(maps.Keys(done)) {
				if !p.known[id] && done[id] == nil {
					continue // made and taken away at once
				}
				effects = append(effects, effect{id: id, after: done[id]})
			}
			for id := range done {
				p.known[id] = true
			}
			if op.ID != 0 {
				m.did(origin, int64(op.ID), effects)
			}
		default:
			back := n < 16
			what = "redo"
			if back {
				what = "undo"
			}
			op, ok := m.step(origin, back)
			var got catalog.Operation
			var err error
			if back {
				got, err = s.Undo(ctx, at(origin))
			} else {
				got, err = s.Redo(ctx, at(origin))
			}
			_, conflict := errors.AsType[*ConflictError](err)
			_, nothing := errors.AsType[*NothingToUndoError](err)
			require.Truef(t, err == nil || conflict || nothing, "step %d: %v", step, err)
			require.Equalf(t, ok, err == nil, "step %d: %s of %s, H%d: %v", step, what, origin, op, err)
			if ok {
				require.EqualValuesf(t, op, got.ID, "step %d: %s of %s", step, what, origin)
			}
			require.Equalf(t, op == 0, nothing, "step %d: %s of %s: %v", step, what, origin, err)
			switch {
			case conflict:
				what += ", conflict"
			case nothing:
				what += ", nothing"
			}
		}
		did[what]++
		require.Equalf(t, m.visible(), seen(t, s), "step %d: after %s of %s", step, what, origin)
	}
	t.Log(did)
	for _, what := range []string{"do", "undo", "redo", "undo, conflict", "redo, conflict"} {
		assert.Greaterf(t, did[what], steps/200, "%s hardly happened", what)
	}
	checkDerived(t, s)
}
