package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/paint"
	"limbwatch/coords/sample"
)

// noteDisc compares a found disc with the painted one: its own limb, or the edge
// that the light shows where the filter shows two.
func (d *demoWork) noteDisc(found catalog.Disc, truth paint.Truth) {
	c := found.Limb.Centre
	d.discs = append(d.discs, discMiss{
		centrePx:      math.Hypot(c.X-truth.Limb.Centre.X, c.Y-truth.Limb.Centre.Y),
		radiusPx:      math.Abs(found.Limb.RadiusPx - truth.Limb.RadiusPx),
		sigmaCentrePx: found.Limb.Cov.SigmaCentrePx(), sigmaRadiusPx: found.Limb.Cov.SigmaRadiusPx(),
	})
}

// story tells what became of one filament: its passage, the prominence that it was at
// the west edge, and its return.
func (d *demoWork) story(ctx context.Context, w io.Writer) error {
	fmt.Fprintln(w, "\nOne filament's story:")
	if err := runTrackShow(ctx, w, d.k, d.hero, false); err != nil {
		return err
	}
	if d.heroAtEdge != 0 {
		fmt.Fprintf(w, "\n%s, the prominence at the edge, weighed without knowing where it was joined:\n", d.heroAtEdge)
		answer, err := d.k.EdgeOfMark(ctx, d.heroAtEdge)
		if err != nil {
			return err
		}
		if err := printEdge(w, answer); err != nil {
			return err
		}
	}
	fmt.Fprintln(w, "\nWhat came back a rotation later:")
	list, err := d.k.TrackReturns(ctx, time.Time{}, time.Time{})
	if err != nil {
		return err
	}
	return printReturns(w, list, false)
}

// placeMiss is how far a mark's place is from where the thing was painted.
type placeMiss struct {
	missDeg, sigmaDeg float64
	inside            bool // the painted place lies in the 95 % ellipse
}

// report prints the errors against the painter's truth.
func (d *demoWork) report(ctx context.Context, w io.Writer) error {
	var entries []catalog.Entry
	misses := map[catalog.Kind][]placeMiss{}
	err := d.k.Store.Read(ctx).EachEntry(store.Query{}, func(e catalog.Entry) error {
		entries = append(entries, e)
		if miss, ok := missOf(e, d.truth[e.Mark.ID]); ok {
			misses[e.Mark.Kind] = append(misses[e.Mark.Kind], miss)
		}
		if d.labels[e.Mark.ID] == demoHero {
			if d.hero == "" {
				d.hero = e.PassageName
			}
			if e.Mark.Kind == catalog.Prominence && e.PassageName == d.hero && e.Position.Edge != nil {
				d.heroAtEdge = e.Mark.ID
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	fmt.Fprintln(w, "\nAgainst the painter's truth:")
	var centre, radius []float64
	for _, m := range d.discs {
		centre, radius = append(centre, m.centrePx), append(radius, m.radiusPx)
	}
	fmt.Fprintf(w, "  %d discs: centre off by %.2f px in the middle case, %.2f at the worst; radius by %.2f, %.2f\n",
		len(d.discs), sample.Quantile(centre, 0.5), slices.Max(centre), sample.Quantile(radius, 0.5), slices.Max(radius))
	t := newTable("  kind", "marks", "median miss", "95 % below", "median quoted error", "painted place in the 95 % ellipse")
	for _, kind := range catalog.Kinds {
		list := misses[kind]
		if len(list) == 0 {
			continue
		}
		var miss, sigma []float64
		inside := 0
		for _, m := range list {
			miss, sigma = append(miss, m.missDeg), append(sigma, m.sigmaDeg)
			if m.inside {
				inside++
			}
		}
		t.add("  "+kind.String(), fmt.Sprint(len(list)), fmt.Sprintf("%.2f°", sample.Quantile(miss, 0.5)), fmt.Sprintf("%.2f°", sample.Quantile(miss, 0.95)),
			fmt.Sprintf("%.2f°", sample.Quantile(sigma, 0.5)), fmt.Sprintf("%.0f %%", 100*float64(inside)/float64(len(list))))
	}
	if err := t.print(w, "  no mark to compare"); err != nil {
		return err
	}
	right, made, there := d.links(entries)
	_, err = fmt.Fprintf(w, "  followed from day to day: %d of %d links between sightings right, %d of %d painted ones found\n", right, made, right, there)
	return err
}

// missOf compares one mark with what was painted; false for what stands at the edge
// and for what was cut by the limb, where the painter's middle is another.
func missOf(e catalog.Entry, truth paint.Mark) (placeMiss, bool) {
	place, ok := e.Position.Reading()
	if !ok || e.Mark.Kind == catalog.Prominence || truth.Beyond != nil {
		return placeMiss{}, false
	}
	db := float64((place.B - truth.At.B))
	dl := float64((place.L - truth.At.L).Wrap180())
	c := place.Cov
	det := c.BB*c.LL - c.BL*c.BL
	if !(det > 0) {
		return placeMiss{}, false
	}
	chi2 := (db*db*c.LL - 2*db*dl*c.BL + dl*dl*c.BB) / det
	cos := place.B.Cos()
	return placeMiss{
		missDeg:  place.Distance(truth.At).Degrees(),
		sigmaDeg: coords.Angle(math.Sqrt((c.BB + c.LL*cos*cos) / 2)).Degrees(),
		inside:   chi2 < 5.991, // chi-squared with two degrees of freedom, 95 %
	}, true
}

// links counts consecutive sightings of one passage that are consecutive sightings
// of one painted thing.
func (d *demoWork) links(entries []catalog.Entry) (right, made, there int) {
	lastOfLabel, lastOfPassage := map[string]catalog.MarkID{}, map[string]catalog.MarkID{}
	for _, e := range entries {
		id, label, passage := e.Mark.ID, d.labels[e.Mark.ID], e.PassageName
		before, known := lastOfLabel[label]
		if known {
			there++
		}
		if same, joined := lastOfPassage[passage]; joined && passage != "" {
			made++
			if known && same == before {
				right++
			}
		}
		lastOfLabel[label], lastOfPassage[passage] = id, id
	}
	return right, made, there
}
