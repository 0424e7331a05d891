package main

import (
	"context"
	"fmt"
	"io"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

// passageRows gathers the passages that have a mark which a query chooses, with all their
// marks, in the order in which they were first seen.
func passageRows(ctx context.Context, k observe.Keeper, q store.Query) ([]passageRow, error) {
	v := k.Store.Read(ctx)
	all, err := v.Passages()
	if err != nil {
		return nil, err
	}
	at := make(map[catalog.PassageID]int, len(all))
	rows := make([]passageRow, len(all))
	for i, p := range all {
		at[p.ID] = i
		rows[i] = newPassageRow(p)
	}
	chosen := map[catalog.PassageID]bool{}
	if len(q.Kinds) > 0 || !q.From.IsZero() || !q.To.IsZero() {
		err = v.EachEntry(q, func(e catalog.Entry) error {
			if e.Join != nil {
				chosen[e.Join.Passage] = true
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	} else {
		for _, p := range all {
			chosen[p.ID] = true
		}
	}
	err = v.EachEntry(whole(q), func(e catalog.Entry) error {
		if e.Join != nil && chosen[e.Join.Passage] {
			rows[at[e.Join.Passage]].see(e)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	rows = slices.DeleteFunc(rows, func(r passageRow) bool { return r.Marks == 0 })
	slices.SortStableFunc(rows, func(a, b passageRow) int { return compareText(a.FirstUTC, b.FirstUTC) })
	return rows, nil
}

// whole is a query that finds all marks of the passages of which q finds some; a passage
// is over within half a rotation.
func whole(q store.Query) store.Query {
	const around = 60 * 24 * time.Hour
	w := store.Query{References: q.References}
	if !q.From.IsZero() {
		w.From = q.From.Add(-around)
	}
	if !q.To.IsZero() {
		w.To = q.To.Add(around)
	}
	return w
}

func compareText(a, b string) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

func newPassageRow(p catalog.Passage) passageRow {
	row := passageRow{ID: p.ID, UUID: p.UUID.String(), Passage: p.Name, Kind: p.Kind, Stale: p.Stale, Note: p.Note}
	if p.Height != nil {
		row.HeightMm, row.SigmaMm = &p.Height.HeightMm, &p.Height.SigmaMm
	}
	return row
}

// see counts a sighting; entries come in the order of time, so that the place is
// the newest.
func (r *passageRow) see(e catalog.Entry) {
	utc := formatUTC(e.Position.UTC)
	if r.Marks == 0 {
		r.FirstUTC = utc
	}
	r.Marks++
	r.LastUTC = utc
	if place, ok := e.Position.Reading(); ok {
		r.LatDeg, r.LonDeg, r.PlaceUTC = degrees(place.B), degrees(place.L), utc
		r.SigmaLat, r.SigmaLon = nil, nil
		if place.Cov.BB > 0 || place.Cov.LL > 0 {
			r.SigmaLat, r.SigmaLon = degrees(place.Cov.SigmaB()), degrees(place.Cov.SigmaL())
		}
	}
}

func runTrackShow(ctx context.Context, w io.Writer, k observe.Keeper, name string, asJSON bool) error {
	v := k.Store.Read(ctx)
	p, err := findPassage(v, name)
	if err != nil {
		return err
	}
	entries, err := v.Entries(store.Query{Passage: p.ID})
	if err != nil {
		return err
	}
	row := newPassageRow(p)
	for _, e := range entries {
		row.see(e)
		row.Sightings = append(row.Sightings, newMarkRow(e))
	}
	if row.Height, err = heightOf(ctx, k, p.ID, entries); err != nil {
		return err
	}
	if row.Links, err = linkRows(v, p.ID); err != nil {
		return err
	}
	if asJSON {
		return printJSON(w, row)
	}
	fmt.Fprintf(w, "%s  %s, %s", row.Passage, row.Kind, counted(row.Marks, "mark"))
	if row.Marks > 0 {
		fmt.Fprintf(w, " from %s to %s", shortTime(row.FirstUTC), shortTime(row.LastUTC))
	}
	fmt.Fprintln(w)
	if row.HeightMm != nil {
		fmt.Fprintf(w, "its height is kept as %s above the photosphere\n", withError(*row.HeightMm, row.SigmaMm, " Mm", false))
	}
	if row.Height != nil {
		row.Height.print(w)
	}
	for _, l := range row.Links {
		fmt.Fprintln(w, l.words)
	}
	if row.Stale {
		fmt.Fprintln(w, "positions of it have changed since it was followed: limbwatch track follow")
	}
	t := newTable("", "middle of the exposure", "kind", "position", "joined by", "label")
	for i := range row.Sightings {
		s := &row.Sightings[i]
		by := s.JoinedBy
		if s.JoinOdds != nil {
			by += fmt.Sprintf(" (%.2f)", *s.JoinOdds)
		}
		t.add(s.Mark.String(), shortTime(s.UTC), s.Kind.String(), s.where(), by, s.Label)
	}
	return t.print(w, "no mark belongs to it")
}
