package main

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"path/filepath"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/paint"
)

// demoWork works the painted pictures up as a person would, and remembers what the
// painter knows of each mark, for the comparison alone.
type demoWork struct {
	k      observe.Keeper
	folder string
	labels map[catalog.MarkID]string
	truth  map[catalog.MarkID]paint.Mark
	discs  []discMiss
	hero   string // name of the hero's passage
	// heroAtEdge is the hero as a prominence at the edge, 0 when it was not seen there.
	heroAtEdge catalog.MarkID
	setups     map[bool]catalog.SetupID
}

// discMiss is how far a disc was found from where it was painted.
type discMiss struct {
	centrePx, radiusPx           float64
	sigmaCentrePx, sigmaRadiusPx float64
}

func (d *demoWork) all(ctx context.Context, stderr io.Writer, shots []demoShot, truths []paint.Truth) error {
	if err := d.introduce(ctx); err != nil {
		return err
	}
	rng := rand.New(rand.NewPCG(demoSeed, 2))
	bar := newBar(stderr, len(shots), "working up")
	defer bar.clear()
	var before demoShot
	for i, shot := range shots {
		if err := ctx.Err(); err != nil {
			return err
		}
		added, err := d.k.AddFrame(ctx, observe.NewFrame{
			Path: filepath.Join(d.folder, shot.name()), Role: shot.role,
			Circumstances: observe.Circumstances{Setup: d.setups[shot.double]},
		})
		if err != nil {
			return err
		}
		if added.DiscRefused != nil {
			fmt.Fprintf(stderr, "limbwatch: note: %s: %v\n", shot.name(), added.DiscRefused)
			continue
		}
		if err := d.orient(ctx, rng, added, shot, before); err != nil {
			return err
		}
		if err := d.mark(ctx, rng, added, shot, truths[i]); err != nil {
			return err
		}
		d.noteDisc(*added.Disc, truths[i])
		before = shot
		bar.step()
	}
	return nil
}

// introduce puts the invented observer, site and telescope into the catalogue.
func (d *demoWork) introduce(ctx context.Context) error {
	if _, err := d.k.AddObserver(ctx, catalog.Observer{Name: demoObserver}); err != nil {
		return err
	}
	if _, err := d.k.AddSite(ctx, catalog.Site{Name: demoSite, LatDeg: 50.91, LonDeg: -2.13, Zone: "Europe/London"}); err != nil {
		return err
	}
	scope, single, err := d.k.AddInstrument(ctx, catalog.Instrument{Name: demoScope, ApertureMm: 60, FocalMm: 400},
		catalog.Setup{Name: "single", WavelengthA: 6562.8, PassbandA: 0.7, Stacked: 1, ReflectionsKnown: true, PixelUm: 4.8})
	if err != nil {
		return err
	}
	double, err := d.k.AddSetup(ctx, catalog.Setup{Instrument: scope.ID, Name: "double", WavelengthA: 6562.8, PassbandA: 0.5, Stacked: 2,
		Reflections: 1, ReflectionsKnown: true, PixelUm: 4.8})
	d.setups = map[bool]catalog.SetupID{false: single.ID, true: double.ID}
	return err
}

// orient sets the frame's north: typed, as a drift would give it to a third of a
// degree, and taken over by the next exposure of the same sitting.
func (d *demoWork) orient(ctx context.Context, rng *rand.Rand, added observe.AddedFrame, shot, before demoShot) error {
	if shot.day == before.day && !before.at.IsZero() {
		_, err := d.k.NorthAsLast(ctx, added.Frame.ID, store.Newest)
		return err
	}
	const sigma = 0.3 * coords.Degree
	_, err := d.k.SetNorth(ctx, catalog.North{
		Frame: added.Frame.ID, Angle: (shot.north.Angle + sigma*coords.Angle(rng.NormFloat64())).Wrap180(),
		Mirrored: shot.north.Mirrored, Sigma: sigma,
	}, store.Newest)
	return err
}

// mark marks what is to be seen on a frame: on a surface exposure what lies on the
// disc, on a limb exposure what stands beyond it. A hand is good to half a pixel.
func (d *demoWork) mark(ctx context.Context, rng *rand.Rand, added observe.AddedFrame, shot demoShot, truth paint.Truth) error {
	var marks []catalog.Mark
	var seen []paint.Mark
	for _, m := range truth.Marks {
		if rng.Float64() < 0.08 {
			continue // overlooked
		}
		mark, ok := demoMark(m, shot.role)
		if !ok {
			continue
		}
		mark.Frame = added.Frame.ID
		for i := range mark.Geometry.Pixels {
			mark.Geometry.Pixels[i].X += observe.DefaultSigmaClickPx * rng.NormFloat64()
			mark.Geometry.Pixels[i].Y += observe.DefaultSigmaClickPx * rng.NormFloat64()
		}
		marks, seen = append(marks, mark), append(seen, m)
	}
	if len(marks) == 0 {
		return nil
	}
	kept, err := d.k.AddMarks(ctx, marks)
	if err != nil {
		return err
	}
	for i, m := range kept {
		d.labels[m.ID], d.truth[m.ID] = seen[i].Label, seen[i]
	}
	return d.looked(ctx, added, shot)
}

// looked notes what the sitting looked for: one exposure cannot serve disc and edge.
func (d *demoWork) looked(ctx context.Context, added observe.AddedFrame, shot demoShot) error {
	s, err := d.k.Store.Read(ctx).Sitting(added.Sitting.ID)
	if err != nil {
		return err
	}
	looked := map[catalog.Kind]catalog.Look{catalog.Sunspot: catalog.LookedFor, catalog.Plage: catalog.LookedFor, catalog.Filament: catalog.LookedFor}
	if shot.role == catalog.RoleLimb || s.Looked[catalog.Prominence] != catalog.NotLooked {
		looked[catalog.Prominence] = catalog.LookedFor
	}
	s.Looked = looked
	s.Seeing = catalog.Rating{Value: fmt.Sprint(2 + shot.day%2), Scale: "Kiepenheuer steadiness"}
	_, err = d.k.EditSitting(ctx, s)
	return err
}

// demoMark is how a person would draw what the painter put there; false when it
// cannot be made out on this exposure.
func demoMark(m paint.Mark, role catalog.Role) (catalog.Mark, bool) {
	const faint = 0.2 // cosine at which things drown in the limb
	if role == catalog.RoleLimb {
		const lowMm = 12 // above the photosphere: less is lost in the spicules
		if m.Beyond == nil || m.Beyond.TopHeightMm < lowMm {
			return catalog.Mark{}, false
		}
		return catalog.Mark{Kind: catalog.Prominence, Geometry: catalog.Geometry{Shape: catalog.Line,
			Pixels: []coords.Pixel{m.Beyond.FromPixel, m.Beyond.Top, m.Beyond.ToPixel}}}, true
	}
	if !m.Visible || m.Mu < faint {
		return catalog.Mark{}, false
	}
	switch m.Kind {
	case paint.KindSunspot:
		return catalog.Mark{Kind: catalog.Sunspot, Extent: catalog.SpotGroup, Spots: m.Count,
			Geometry: catalog.Geometry{Shape: catalog.Point, Pixels: []coords.Pixel{m.Pixel}}}, true
	case paint.KindPlage:
		if len(m.Outline) < 3 {
			return catalog.Mark{}, false
		}
		return catalog.Mark{Kind: catalog.Plage, Geometry: catalog.Geometry{Shape: catalog.Outline, Pixels: every(m.Outline, 10)}}, true
	case paint.KindFilament:
		if len(m.Spine) < 2 {
			return catalog.Mark{}, false
		}
		return catalog.Mark{Kind: catalog.Filament, Geometry: catalog.Geometry{Shape: catalog.Line, Pixels: every(m.Spine, 7)}}, true
	}
	return catalog.Mark{}, false
}

// every thins points out to about n, both ends kept.
func every(points []coords.Pixel, n int) []coords.Pixel {
	if len(points) <= n {
		return append([]coords.Pixel(nil), points...)
	}
	var thin []coords.Pixel
	for i := range n {
		thin = append(thin, points[i*(len(points)-1)/(n-1)])
	}
	return thin
}
