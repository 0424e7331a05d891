package main

import (
	"context"
	"fmt"
	"io"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
	"limbwatch/catalog/gather"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/read"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// passageRows gathers the passages that have a mark which a query chooses, with all their
// marks, in the order in which they were first seen.
func passageRows(v *store.View, q store.Query) ([]passageRow, error) {
	list, err := read.Passages(v, q)
	if err != nil {
		return nil, err
	}
	rows := make([]passageRow, len(list))
	for i, p := range list {
		rows[i] = newPassageRow(p.Passage)
		rows[i].Marks, rows[i].FirstUTC, rows[i].LastUTC = p.Marks, formatUTC(p.First), formatUTC(p.Last)
		if p.Place != nil {
			rows[i].stood(*p.Place, p.PlaceUTC)
		}
	}
	return rows, nil
}

func newPassageRow(p catalog.Passage) passageRow {
	row := passageRow{ID: p.ID, UUID: p.UUID.String(), Passage: p.Name, Kind: p.Kind, Stale: p.Stale, Note: p.Note}
	if p.Height != nil {
		row.HeightMm, row.SigmaMm = field.MegametresOf(p.Height.HeightMm), field.MegametresOf(p.Height.SigmaMm)
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
		r.stood(place, e.Position.UTC)
	}
}

// stood notes a place on the disc.
func (r *passageRow) stood(place coords.Measured, at time.Time) {
	r.LatDeg, r.LonDeg, r.PlaceUTC = degrees(place.B), degrees(place.L), formatUTC(at)
	r.SigmaLat, r.SigmaLon = sigmas(place.Cov)
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
	marks, err := gather.MeasureAll(ctx, k, entries)
	if err != nil {
		return err
	}
	for _, m := range marks {
		row.see(m.Entry)
		row.Sightings = append(row.Sightings, markRow{m})
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
		fmt.Fprintf(w, "its height is kept as %s above the photosphere\n", layerText(*p.Height))
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
	for _, e := range entries {
		t.add(e.Mark.ID.String(), shortTime(formatUTC(e.Position.UTC)), e.Mark.Kind.String(), where(e.Position), joinedBy(e), e.Mark.Label)
	}
	return t.print(w, "no mark belongs to it")
}
