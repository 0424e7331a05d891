package store

import (
	"database/sql"
	"strings"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
	"limbwatch/coords"
)

// positionColumns are the columns of positions, beside mark_id.
var positionColumns = func() (names []string) {
	for _, f := range field.Position {
		names = append(names, f.Column())
	}
	return names
}()

func positionSelection(alias string) string {
	return alias + "." + strings.Join(positionColumns, ", "+alias+".")
}

// positionValues gives the columns of a position.
func positionValues(p catalog.Position) []any { return field.Values(field.Position, &p) }

// nullPosition scans a position that may be missing.
type nullPosition struct{ values []any }

func (n *nullPosition) targets() (targets []any) {
	n.values = make([]any, len(positionColumns))
	for i := range n.values {
		targets = append(targets, &n.values[i])
	}
	return targets
}

// position gives what was scanned; a mark without one has the zero position.
func (n *nullPosition) position(id catalog.MarkID) (p catalog.Position, err error) {
	p.Mark = id
	if n.values[0] == nil { // utc, which every position has
		return p, nil
	}
	return p, field.SetAll(field.Position, &p, n.values)
}

func measured(latDeg, lonDeg, sigmaLat, sigmaLon, correlation float64) coords.Measured {
	b, l := float64(angle(sigmaLat)), float64(angle(sigmaLon))
	return coords.Measured{
		Heliographic: coords.Heliographic{B: angle(latDeg), L: angle(lonDeg)},
		Cov:          coords.Covariance{BB: b * b, LL: l * l, BL: correlation * b * l},
	}
}

// Position reads where a mark lies.
func (v *View) Position(id catalog.MarkID) (catalog.Position, error) {
	var n nullPosition
	err := v.q.QueryRowContext(v.ctx, "SELECT "+positionSelection("p")+" FROM positions p WHERE p.mark_id = ?", int64(id)).
		Scan(n.targets()...)
	if err == sql.ErrNoRows {
		return catalog.Position{}, &NotFoundError{Noun: "position", ID: "of mark " + id.String()}
	}
	if err != nil {
		return catalog.Position{}, asBusy(err)
	}
	return n.position(id)
}

// Unplaced gives why marks are kept without a position, mark by mark, in order.
func (v *View) Unplaced() (all []catalog.Position, err error) {
	err = v.each("SELECT mark_id, reason FROM positions WHERE reason <> '' ORDER BY mark_id", nil, func(scan scanner) error {
		var p catalog.Position
		err := scan(&p.Mark, &p.Reason)
		all = append(all, p)
		return err
	})
	return all, err
}
