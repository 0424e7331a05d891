package observe

import (
	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// propose keeps the doubtful joins that were not made, with their odds, and takes
// away what was proposed about these marks before.
func (t *tracker) propose() error {
	of := make([]catalog.PassageID, len(t.entries)) // passage of each sighting
	for n := range t.result.Passages {
		for _, s := range t.result.Passages[n].Sightings {
			of[entryOf(s)] = t.passages[n]
		}
	}
	here := make(map[catalog.MarkID]bool, len(t.entries)) // of passages that were touched
	for i, e := range t.entries {
		here[e.Mark] = of[i] != 0
	}
	keep := map[joinKey]catalog.Join{}
	for _, p := range t.result.Proposals {
		later := entryOf(p.Later)
		passage, mark := of[entryOf(p.Earlier)], t.entries[later].Mark
		if p.Made || passage == 0 || of[later] == 0 || of[later] == passage {
			continue
		}
		key := joinKey{mark, passage}
		odds := p.Odds
		if before, again := keep[key]; !again || *before.Odds < odds {
			keep[key] = catalog.Join{Mark: mark, Passage: passage, State: catalog.Proposed, By: catalog.ByProgram, Odds: &odds}
		}
	}
	var fresh []catalog.Join
	for key, said := range t.unmade {
		if said.State != catalog.Proposed {
			delete(keep, key) // refused
			continue
		}
		if !here[key.mark] {
			continue
		}
		wanted, still := keep[key]
		if still && sameOdds(wanted.Odds, said.Odds) {
			delete(keep, key)
			continue
		}
		if !still {
			t.done.Withdrawn++
		}
		if err := t.tx.RemoveJoin(said.ID, store.Newest); err != nil {
			return err
		}
	}
	for _, p := range t.result.Proposals { // in an order that does not change from run to run
		key := joinKey{t.entries[entryOf(p.Later)].Mark, of[entryOf(p.Earlier)]}
		if j, wanted := keep[key]; wanted {
			fresh = append(fresh, j)
			delete(keep, key)
		}
	}
	t.done.Proposed += len(fresh)
	_, err := t.tx.AddJoins(fresh)
	return err
}
