package store

import (
	"database/sql"
	"fmt"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
)

var passages = kept(field.Passage)

var joins = kept(field.Join)

var links = kept(field.Link)

func verdict(state, by string) (s catalog.Standing, v catalog.Voice, err error) {
	if s, err = catalog.ParseStanding(state); err != nil {
		return 0, 0, err
	}
	v, err = catalog.ParseVoice(by)
	return s, v, err
}

func number(n sql.Null[float64]) *float64 {
	if !n.Valid {
		return nil
	}
	return &n.V
}

// Passage reads one passage.
func (v *View) Passage(id catalog.PassageID) (catalog.Passage, error) {
	p, err := get(v, &passages, id)
	if err != nil {
		return p, err
	}
	return p, v.q.QueryRowContext(v.ctx, "SELECT stale FROM passages WHERE id = ?", int64(id)).Scan(&p.Stale)
}

// PassageNamed finds a passage by its exact name, or by one that it alone once had.
func (v *View) PassageNamed(name string) (catalog.Passage, error) {
	found, err := find(v, &passages,
		"t.id IN (SELECT passage_id FROM passage_names WHERE name = ?) ORDER BY t.name = ? DESC, t.id", name, name)
	switch {
	case err != nil:
		return catalog.Passage{}, err
	case len(found) == 0:
		return catalog.Passage{}, &NotFoundError{Noun: "passage", ID: quoted(name)}
	case len(found) > 1 && found[0].Name != name:
		return catalog.Passage{}, &InvalidError{Err: fmt.Errorf("%s and %s were both called %s once", found[0].Name, found[1].Name, quoted(name))}
	}
	return found[0], nil
}

// Passages lists all passages in the order in which they were made.
func (v *View) Passages() ([]catalog.Passage, error) {
	stale, err := v.StalePassages()
	if err != nil {
		return nil, err
	}
	rows, err := find(v, &passages, "1 ORDER BY t.id")
	for i, j := 0, 0; i < len(rows) && j < len(stale); i++ {
		if rows[i].ID == stale[j] {
			rows[i].Stale = true
			j++
		}
	}
	return rows, err
}

// StalePassages lists, by id, the passages whose marks have moved since they were
// last followed.
func (v *View) StalePassages() (ids []catalog.PassageID, err error) {
	err = v.each("SELECT id FROM passages WHERE stale = 1 AND removed = 0 ORDER BY id", nil, func(scan scanner) error {
		var id catalog.PassageID
		err := scan(&id)
		ids = append(ids, id)
		return err
	})
	return ids, err
}

// Join reads one join.
func (v *View) Join(id catalog.JoinID) (catalog.Join, error) { return get(v, &joins, id) }

// JoinsOf lists what is said of a mark: made first, then proposed by odds, then refused.
func (v *View) JoinsOf(id catalog.MarkID) ([]catalog.Join, error) {
	return find(v, &joins, "t.mark_id = ? ORDER BY CASE t.state WHEN 'made' THEN 0 WHEN 'proposed' THEN 1 ELSE 2 END, t.odds DESC, t.id", int64(id))
}

// JoinsTo lists what is said of a passage.
func (v *View) JoinsTo(id catalog.PassageID) ([]catalog.Join, error) {
	return find(v, &joins, "t.passage_id = ? ORDER BY t.mark_id", int64(id))
}

// Joins lists all joins by mark.
func (v *View) Joins() ([]catalog.Join, error) { return find(v, &joins, "1 ORDER BY t.mark_id, t.id") }

// Links lists all links between passages.
func (v *View) Links() ([]catalog.Link, error) { return find(v, &links, "1 ORDER BY t.id") }

// LinksOf lists the links of a passage to earlier and later ones.
func (v *View) LinksOf(id catalog.PassageID) ([]catalog.Link, error) {
	return find(v, &links, "t.id IN (SELECT id FROM links WHERE removed = 0 AND from_passage_id = ?"+
		" UNION SELECT id FROM links WHERE removed = 0 AND to_passage_id = ?) ORDER BY t.id", int64(id), int64(id))
}

// AddPassage keeps a new passage.
func (tx *Tx) AddPassage(p catalog.Passage) (catalog.Passage, error) { return add(tx, &passages, p) }

// AddPassages keeps many at once.
func (tx *Tx) AddPassages(p []catalog.Passage) ([]catalog.Passage, error) {
	return addAll(tx, &passages, p)
}

// EditPassage keeps a changed passage; its marks follow a new height.
func (tx *Tx) EditPassage(p catalog.Passage) (catalog.Passage, error) { return edit(tx, &passages, p) }

// RemovePassage takes a passage without joins and links out of sight.
func (tx *Tx) RemovePassage(id catalog.PassageID, revision int64) error {
	return remove(tx, &passages, id, revision)
}

// AddJoin keeps a new join.
func (tx *Tx) AddJoin(j catalog.Join) (catalog.Join, error) { return add(tx, &joins, j) }

// AddJoins keeps many at once.
func (tx *Tx) AddJoins(j []catalog.Join) ([]catalog.Join, error) { return addAll(tx, &joins, j) }

// EditJoin keeps a changed join.
func (tx *Tx) EditJoin(j catalog.Join) (catalog.Join, error) { return edit(tx, &joins, j) }

// RemoveJoin takes a join out of sight.
func (tx *Tx) RemoveJoin(id catalog.JoinID, revision int64) error {
	return remove(tx, &joins, id, revision)
}

// AddLink keeps a new link.
func (tx *Tx) AddLink(l catalog.Link) (catalog.Link, error) { return add(tx, &links, l) }

// EditLink keeps a changed link.
func (tx *Tx) EditLink(l catalog.Link) (catalog.Link, error) { return edit(tx, &links, l) }

// RemoveLink takes a link out of sight.
func (tx *Tx) RemoveLink(id catalog.LinkID, revision int64) error {
	return remove(tx, &links, id, revision)
}
