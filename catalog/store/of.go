package store

import (
	"slices"

	"limbwatch/catalog"
)

// What is asked for many things at once, by their ids: one query for some hundreds.

// idsAtOnce is how many ids one query names.
const idsAtOnce = 500

// findOf reads the live rows of a noun whose column names one of ids; more is a further
// condition on t, with its order left to order.
func findOf[T any, ID, Of ~int64](v *View, n *noun[T, ID], column string, ids []Of, more, order string) (all []T, err error) {
	for some := range slices.Chunk(ids, idsAtOnce) {
		found, err := find(v, n, more+"t."+column+" IN "+placeholders(1, len(some))+" ORDER BY "+order, numbers(some)...)
		if err != nil {
			return nil, err
		}
		all = append(all, found...)
	}
	return all, nil
}

// ProposedJoins lists the joins that were proposed of marks, by mark.
func (v *View) ProposedJoins(ids []catalog.MarkID) ([]catalog.Join, error) {
	return findOf(v, &joins, "mark_id", ids, "t.state = 'proposed' AND ", "t.mark_id, t.id")
}

// OpenWarningsOf lists the warnings of frames that nobody has settled, by frame.
func (v *View) OpenWarningsOf(ids []catalog.FrameID) ([]catalog.Warning, error) {
	return findOf(v, &warnings, "frame_id", ids, "t.settled_utc IS NULL AND ", "t.frame_id, t.id")
}

// WarningsOfAll lists the warnings of frames, settled ones too, by frame in the order in
// which they arose.
func (v *View) WarningsOfAll(ids []catalog.FrameID) (map[catalog.FrameID][]catalog.Warning, error) {
	found, err := findOf(v, &warnings, "frame_id", ids, "", "t.id")
	all := map[catalog.FrameID][]catalog.Warning{}
	for _, w := range found {
		all[w.Frame] = append(all[w.Frame], w)
	}
	return all, err
}

// DiscsOf reads the discs of frames; one that has none is left out.
func (v *View) DiscsOf(ids []catalog.FrameID) (map[catalog.FrameID]catalog.Disc, error) {
	found, err := findOf(v, &discs, "frame_id", ids, "", "t.id")
	all := make(map[catalog.FrameID]catalog.Disc, len(found))
	for _, d := range found {
		all[d.Frame] = d
	}
	return all, err
}

// NorthsOf reads the norths of frames; one that has none is left out.
func (v *View) NorthsOf(ids []catalog.FrameID) (map[catalog.FrameID]catalog.North, error) {
	found, err := findOf(v, &norths, "frame_id", ids, "", "t.id")
	all := make(map[catalog.FrameID]catalog.North, len(found))
	for _, n := range found {
		all[n.Frame] = n
	}
	return all, err
}

// SittingsOf reads sittings by their ids; one that is not there is left out.
func (v *View) SittingsOf(ids []catalog.SittingID) (map[catalog.SittingID]catalog.Sitting, error) {
	found, err := findOf(v, &sittings, "id", ids, "", "t.id")
	all := make(map[catalog.SittingID]catalog.Sitting, len(found))
	for _, s := range found {
		all[s.ID] = s
	}
	return all, err
}

// LinksFrom lists the links from passages to later ones.
func (v *View) LinksFrom(ids []catalog.PassageID) ([]catalog.Link, error) {
	return findOf(v, &links, "from_passage_id", ids, "", "t.id")
}

// PassagesOf reads passages by their ids; one that is not there is left out.
func (v *View) PassagesOf(ids []catalog.PassageID) (map[catalog.PassageID]catalog.Passage, error) {
	found, err := findOf(v, &passages, "id", ids, "", "t.id")
	if err != nil {
		return nil, err
	}
	all := make(map[catalog.PassageID]catalog.Passage, len(found))
	for _, p := range found {
		all[p.ID] = p
	}
	for some := range slices.Chunk(ids, idsAtOnce) {
		err := v.each("SELECT id FROM passages WHERE stale = 1 AND removed = 0 AND id IN "+placeholders(1, len(some)), numbers(some), func(scan scanner) error {
			var id catalog.PassageID
			err := scan(&id)
			p := all[id]
			p.Stale = true
			all[id] = p
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	return all, nil
}
