package store

import (
	"database/sql"
	"encoding/json"
	"fmt"

	"limbwatch/catalog"
)

var marks = noun[catalog.Mark, catalog.MarkID]{
	table: table{name: "marks", noun: "mark", letter: "M",
		columns: []string{"frame_id", "kind", "shape", "form", "vertices",
			"sigma_click_px", "polar_limb_mm", "polar_limb_sigma_mm", "sigma_r", "sigma_pa_deg", "sigma_place_deg",
			"height_mm", "height_sigma_mm", "extent", "spots", "label", "aliases", "note",
			"observer_id", "marked_utc", "same_as_id"},
		refs: []reference{{"frame_id", "frames"}, {"observer_id", "observers"}, {"same_as_id", "marks"}}},
	values: markValues,
	scan:   scanMark,
	head:   func(m *catalog.Mark) (*catalog.MarkID, *catalog.Record) { return &m.ID, &m.Record },
}

func markValues(m catalog.Mark) []any {
	g := m.Geometry
	form, pairs := g.Written()
	vertices, _ := json.Marshal(pairs) // finite: Validate has seen them
	var click, polarLimb, polarSigma any
	switch g.Form() {
	case catalog.FormPixels:
		click = g.SigmaClickPx
	case catalog.FormPolar:
		polarLimb, polarSigma = g.PolarLimb.HeightMm, g.PolarLimb.SigmaMm
	}
	height, heightSigma := layerOrNull(m.Height)
	var aliases any
	if len(m.Aliases) > 0 {
		text, _ := json.Marshal(m.Aliases) // strings always can
		aliases = string(text)
	}
	return []any{int64(m.Frame), m.Kind.String(), g.Shape.String(), form, string(vertices),
		click, polarLimb, polarSigma, orNull(g.SigmaR), orNullDegrees(g.SigmaPA), orNullDegrees(g.SigmaPlace),
		height, heightSigma, orNull(m.Extent.String()), orNull(int64(m.Spots)), m.Label, aliases, m.Note,
		orNullID(m.Observer), instant(m.MarkedAt), orNullID(m.SameAs)}
}

func scanMark(scan scanner) (m catalog.Mark, err error) {
	var kind, shape, form, vertices, marked string
	var click, sigmaR, sigmaPA, sigmaPlace sql.Null[float64]
	var polarLimb, height nullLayer
	var extent, aliases sql.Null[string]
	var spots sql.Null[int]
	var observer, sameAs sql.Null[int64]
	err = scan(&m.ID, &m.UUID, &m.Revision, &m.Frame, &kind, &shape, &form, &vertices,
		&click, &polarLimb.height, &polarLimb.sigma, &sigmaR, &sigmaPA, &sigmaPlace,
		&height.height, &height.sigma, &extent, &spots, &m.Label, &aliases, &m.Note,
		&observer, &marked, &sameAs)
	if err != nil {
		return m, err
	}
	g := &m.Geometry
	g.SigmaClickPx, g.SigmaR, g.SigmaPA, g.SigmaPlace = click.V, sigmaR.V, angle(sigmaPA.V), angle(sigmaPlace.V)
	if l := polarLimb.layer(); l != nil {
		g.PolarLimb = *l
	}
	m.Height, m.Spots = height.layer(), spots.V
	m.Observer, m.SameAs = catalog.ObserverID(observer.V), catalog.MarkID(sameAs.V)
	if aliases.Valid {
		if err := json.Unmarshal([]byte(aliases.V), &m.Aliases); err != nil {
			return m, fmt.Errorf("aliases %.40q: %w", aliases.V, err)
		}
	}
	if m.Kind, err = catalog.ParseKind(kind); err != nil {
		return m, err
	}
	if g.Shape, err = catalog.ParseShape(shape); err != nil {
		return m, err
	}
	if m.Extent, err = catalog.ParseExtent(extent.V); err != nil {
		return m, err
	}
	var pairs [][2]float64
	if err := json.Unmarshal([]byte(vertices), &pairs); err != nil {
		return m, fmt.Errorf("vertices %.40q: %w", vertices, err)
	}
	if err := g.SetWritten(form, pairs); err != nil {
		return m, err
	}
	m.MarkedAt, err = parseInstant(marked)
	return m, err
}

// Mark reads one mark.
func (v *View) Mark(id catalog.MarkID) (catalog.Mark, error) { return get(v, &marks, id) }

// MarksOn lists the marks of a frame in the order in which they were made.
func (v *View) MarksOn(id catalog.FrameID) ([]catalog.Mark, error) {
	return find(v, &marks, "t.frame_id = ? ORDER BY t.id", int64(id))
}

// AddMark keeps a new mark.
func (tx *Tx) AddMark(m catalog.Mark) (catalog.Mark, error) { return add(tx, &marks, m) }

// AddMarks keeps many at once, quickly.
func (tx *Tx) AddMarks(m []catalog.Mark) ([]catalog.Mark, error) { return addAll(tx, &marks, m) }

// EditMark keeps a changed mark.
func (tx *Tx) EditMark(m catalog.Mark) (catalog.Mark, error) { return edit(tx, &marks, m) }

// RemoveMark takes a mark out of sight, with what joined it to passages and what
// says that other marks are the same thing.
func (tx *Tx) RemoveMark(id catalog.MarkID, revision int64) error {
	held, err := tx.JoinsOf(id)
	if err != nil {
		return err
	}
	for _, j := range held {
		if err := remove(tx, &joins, j.ID, Newest); err != nil {
			return err
		}
	}
	same, err := find(&tx.View, &marks, "t.same_as_id = ?", int64(id))
	if err != nil {
		return err
	}
	for _, m := range same {
		if err := tx.alter(&marks.table, int64(m.ID), changed, []string{"same_as_id"}, []any{nil}); err != nil {
			return err
		}
	}
	return remove(tx, &marks, id, revision)
}
