package observe

import (
	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// propose keeps the doubtful joins that were not made, with their odds, and takes
// away what was proposed about these marks before.
func (t *tracker) propose() error {
	of := make(map[string]catalog.PassageID, len(t.entries)) // passage of each sighting
	for n := range t.result.Passages {
		for _, s := range t.result.Passages[n].Sightings {
			of[s.ID] = t.passages[n]
		}
	}
	keep := map[joinKey]catalog.Join{}
	for _, p := range t.result.Proposals {
		passage, mark := of[p.Earlier.ID], t.entries[t.at[p.Later.ID]].Mark.ID
		if p.Made || passage == 0 || of[p.Later.ID] == passage {
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
		if i, here := t.at[key.mark.String()]; !here || t.entries[i].Mark.ID != key.mark || said.State != catalog.Proposed {
			if said.State != catalog.Proposed {
				delete(keep, key) // refused
			}
			continue
		}
		wanted, still := keep[key]
		if still && sameOdds(wanted.Odds, said.Odds) {
			delete(keep, key)
			continue
		}
		if err := t.tx.RemoveJoin(said.ID, store.Newest); err != nil {
			return err
		}
	}
	for _, p := range t.result.Proposals { // in an order that does not change from run to run
		key := joinKey{t.entries[t.at[p.Later.ID]].Mark.ID, of[p.Earlier.ID]}
		if j, wanted := keep[key]; wanted {
			fresh = append(fresh, j)
			delete(keep, key)
		}
	}
	t.done.Proposed = len(fresh)
	_, err := t.tx.AddJoins(fresh)
	return err
}
