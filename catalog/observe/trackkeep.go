package observe

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// keep turns what the follower found into passages and joins: a passage that is
// there keeps its name, where most of its marks are together still.
func (t *tracker) keep() error {
	found := make([][]int, len(t.result.Passages)) // entries of each found passage
	for n := range t.result.Passages {
		p := &t.result.Passages[n]
		if !t.touched(p) {
			continue
		}
		for _, s := range p.Sightings {
			found[n] = append(found[n], entryOf(s))
		}
	}
	t.passages = t.owners(found)
	if err := t.begin(found); err != nil {
		return err
	}
	if err := t.join(found); err != nil {
		return err
	}
	return t.end()
}

// owners gives each found passage the one in the catalogue that it continues: the
// one that the observer put a mark of it into, else the one with most marks in it,
// each to one only. Zero means that it is new.
func (t *tracker) owners(found [][]int) []catalog.PassageID {
	type claim struct {
		found   int
		passage catalog.PassageID
		weight  int
	}
	var claims []claim
	for n, members := range found {
		weight := map[catalog.PassageID]int{}
		for _, i := range members {
			if j := t.entries[i].Join; j != nil {
				weight[j.Passage]++
				if j.By == catalog.ByObserver {
					weight[j.Passage] += len(t.entries) // a word that stands
				}
			}
		}
		for _, id := range slices.Sorted(maps.Keys(weight)) {
			claims = append(claims, claim{n, id, weight[id]})
		}
	}
	slices.SortStableFunc(claims, func(a, b claim) int {
		return cmp.Or(cmp.Compare(b.weight, a.weight), cmp.Compare(a.passage, b.passage), cmp.Compare(a.found, b.found))
	})
	owners := make([]catalog.PassageID, len(found))
	taken := map[catalog.PassageID]bool{}
	for _, c := range claims {
		if owners[c.found] == 0 && !taken[c.passage] {
			owners[c.found], taken[c.passage] = c.passage, true
		}
	}
	return owners
}

// begin keeps the passages that are new, with names of their own.
func (t *tracker) begin(found [][]int) error {
	names := newNamer(&t.tx.View)
	var fresh []catalog.Passage
	var at []int
	for n, members := range found {
		if t.passages[n] != 0 || len(members) == 0 {
			continue
		}
		kind := t.mostly(members)
		name, err := names.next(kind, t.entries[members[0]].UTC.Year())
		if err != nil {
			return err
		}
		fresh = append(fresh, catalog.Passage{Name: name, Kind: kind})
		at = append(at, n)
	}
	kept, err := t.tx.AddPassages(fresh)
	if err != nil {
		return err
	}
	for i, p := range kept {
		t.passages[at[i]] = p.ID
		c := t.change(p.ID)
		c.New, c.Passage = true, p
	}
	t.done.New += len(kept)
	return nil
}

// mostly is the kind of most marks of a passage; a cloud seen before the disc even
// once is a filament, and a prominence there was just its edge.
func (t *tracker) mostly(members []int) catalog.Kind {
	count := map[catalog.Kind]int{}
	for _, i := range members {
		count[t.entries[i].Kind]++
	}
	best := t.entries[members[0]].Kind
	for _, kind := range catalog.Kinds {
		if count[kind] > count[best] {
			best = kind
		}
	}
	if best == catalog.Prominence && count[catalog.Filament] > 0 {
		return catalog.Filament
	}
	return best
}

// join moves marks into their passages where they are not there yet.
func (t *tracker) join(found [][]int) error {
	var fresh []catalog.Join
	for n, members := range found {
		id := t.passages[n]
		for m, i := range members {
			e := &t.entries[i]
			odds := t.odds(n, m)
			said, unmade := t.unmade[joinKey{e.Mark, id}]
			switch {
			case unmade && said.State == catalog.Refused && said.By == catalog.ByObserver:
				continue // the observer's word: not this one
			case e.Join == nil:
				if err := t.unsay(e.Mark, id); err != nil {
					return err
				}
				fresh = append(fresh, catalog.Join{Mark: e.Mark, Passage: id, State: catalog.Made, By: catalog.ByProgram, Odds: odds})
				t.gain(id, e)
				t.done.Joined++
			case e.Join.By == catalog.ByObserver, e.Join.Passage == id && t.pinned(n, m):
				continue
			default:
				if err := t.move(e, id, odds); err != nil {
					return err
				}
			}
		}
	}
	// In the order of marks the tables of joins grow at their ends.
	slices.SortFunc(fresh, func(a, b catalog.Join) int { return cmp.Compare(a.Mark, b.Mark) })
	_, err := t.tx.AddJoins(fresh)
	return err
}

// odds are the follower's that a mark belongs with the one before it in its
// passage; nil for the first, and where the observer joined them.
func (t *tracker) odds(passage, member int) *float64 {
	if member == 0 || t.pinned(passage, member) {
		return nil
	}
	odds := t.result.Passages[passage].Links[member-1].Odds
	return &odds
}

// pinned tells whether a mark and the one before it were kept together because their
// passage is the observer's: the follower then has no odds of its own, and what it said
// before stays.
func (t *tracker) pinned(passage, member int) bool {
	return member > 0 && t.result.Passages[passage].Links[member-1].By == catalog.ByObserver
}

// move puts the program's join of a mark right.
func (t *tracker) move(e *store.Sighted, to catalog.PassageID, odds *float64) error {
	was := *e.Join
	if was.Passage == to && sameOdds(was.Odds, odds) {
		return nil
	}
	if was.Passage == to {
		t.done.Reweighed++
	} else {
		t.gain(to, e)
		change := t.change(was.Passage)
		change.Lost = append(change.Lost, e.Mark)
		t.done.Moved++
		if err := t.unsay(e.Mark, to); err != nil {
			return err
		}
	}
	next, err := t.tx.Join(was.ID)
	if err != nil {
		return err
	}
	next.Passage, next.Odds = to, odds
	_, err = t.tx.EditJoin(next)
	return err
}

// unsay takes away what the program proposed about a mark and a passage.
func (t *tracker) unsay(mark catalog.MarkID, passage catalog.PassageID) error {
	key := joinKey{mark, passage}
	said, ok := t.unmade[key]
	if !ok || said.State != catalog.Proposed {
		return nil
	}
	delete(t.unmade, key)
	return t.tx.RemoveJoin(said.ID, store.Newest)
}

// sameOdds tells whether odds are the same to the hundredth that is printed: less is
// no change to be kept.
func sameOdds(a, b *float64) bool {
	return a == nil && b == nil || a != nil && b != nil && math.Abs(*a-*b) < 0.005
}

// change is what is noted about a passage.
func (t *tracker) change(id catalog.PassageID) *PassageChange {
	if t.changes == nil {
		t.changes = map[catalog.PassageID]*PassageChange{}
	}
	c := t.changes[id]
	if c == nil {
		c = &PassageChange{}
		t.changes[id] = c
	}
	return c
}

func (t *tracker) gain(id catalog.PassageID, e *store.Sighted) {
	c := t.change(id)
	c.Gained = append(c.Gained, e.Mark)
	at := e.UTC
	if c.First.IsZero() || at.Before(c.First) {
		c.First = at
	}
	if at.After(c.Latest) {
		c.Latest = at
	}
}

// end takes passages out of sight that the program made and that lost all their
// marks.
func (t *tracker) end() error {
	for _, id := range slices.Sorted(maps.Keys(t.changes)) {
		c := t.changes[id]
		if !c.New {
			var err error
			if c.Passage, err = t.tx.Passage(id); err != nil {
				return err
			}
		}
		if len(c.Lost) > 0 {
			left, err := t.tx.JoinsTo(id)
			if err != nil {
				return err
			}
			links, err := t.tx.LinksOf(id)
			if err != nil {
				return err
			}
			if len(left) == 0 && len(links) == 0 {
				if err := t.tx.RemovePassage(id, store.Newest); err != nil {
					return err
				}
				c.Ended = true
				t.done.Ended++
			}
		}
		t.done.Passages = append(t.done.Passages, *c)
	}
	return nil
}
