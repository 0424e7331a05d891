package gather

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"sync"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/report"
	"limbwatch/catalog/store"
	"limbwatch/coords/picture"
)

// surroundings is how far before and after a report's days the strip map looks.
const surroundings = 21 * 24 * time.Hour

// ReportOptions choose a report.
//
//	Observer  only what this one saw; 0: everybody
//	Note      is told what was left out and why: a picture that is gone, a prominence
//	          that could not be weighed; nil: nobody is told
type ReportOptions struct {
	Period   report.Period
	Observer catalog.ObserverID
	Note     func(text string)
}

// Report reads out of the catalogue what a report is made of: all of report.Input but
// the words, K, the cautions and the program's name, which the caller adds.
func Report(ctx context.Context, k observe.Keeper, o ReportOptions) (report.Input, error) {
	var one sync.Mutex // pictures are asked for several at a time
	tell := func(text string) {
		one.Lock()
		defer one.Unlock()
		if o.Note != nil {
			o.Note(text)
		}
	}
	in := report.Input{Period: o.Period, Made: k.Now()}
	frames := map[catalog.FrameID]catalog.Frame{}
	err := k.Store.View(ctx, func(v *store.View) error {
		g := reportGatherer{view: v, in: &in, frames: frames, observer: o.Observer}
		return g.gather()
	})
	if err != nil {
		return in, err
	}
	if in.Matches, err = weighEdges(ctx, k, in.Entries, tell); err != nil {
		return in, err
	}
	crossings, err := k.Crossings(ctx, catalog.Filament, o.Period.From.Add(-surroundings), o.Period.To.Add(surroundings))
	if err != nil {
		return in, err
	}
	in.Crossings = make(map[catalog.MarkID]report.Crossing, len(crossings))
	for mark, c := range crossings {
		in.Crossings[mark] = report.Crossing{East: momentOf(c.East), Meridian: momentOf(c.Meridian), West: momentOf(c.West)}
	}
	in.Picture = func(id catalog.FrameID) (*picture.Picture, error) {
		pic, err := k.Preview(frames[id])
		if _, changed := errors.AsType[*observe.ChangedFileError](err); changed || errors.Is(err, fs.ErrNotExist) {
			tell(fmt.Sprintf("drawn without its picture: %v", err))
			return nil, nil
		}
		return pic, err
	}
	return in, nil
}

// leastOdds is what a filament must have to be named beside a prominence.
const leastOdds = 0.02

// weighEdges checks each prominence at the edge: which filaments it may be, with odds.
// One that cannot be weighed is told and left blank.
func weighEdges(ctx context.Context, k observe.Keeper, entries []catalog.Entry, note func(string)) ([]report.Match, error) {
	var marks []catalog.MarkID
	for _, e := range entries {
		if e.Mark.Kind == catalog.Prominence && e.Position.Edge != nil {
			marks = append(marks, e.Mark.ID)
		}
	}
	answers, err := k.EdgeOfMarks(ctx, marks)
	if err != nil {
		return nil, err
	}
	var matches []report.Match
	for i, answer := range answers {
		if answer.Err != nil {
			note(fmt.Sprintf("prominence %s was not weighed: %v", marks[i], answer.Err))
		}
		for _, c := range answer.Candidates {
			if c.Probability >= leastOdds {
				matches = append(matches, report.Match{Mark: marks[i], Passage: c.Passage.ID, Odds: c.Probability, By: catalog.ByProgram})
			}
		}
	}
	return matches, nil
}

// reportGatherer fills a report's input.
type reportGatherer struct {
	view     *store.View
	in       *report.Input
	observer catalog.ObserverID // 0: everybody
	frames   map[catalog.FrameID]catalog.Frame
	sittings map[catalog.SittingID]bool // those of the observer, near and in the period
}

func (g *reportGatherer) gather() error {
	for _, step := range []func() error{g.sittingsOf, g.looks, g.marks, g.rest} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// counts reads what daily counts are made of.
func (g *reportGatherer) counts() error {
	if err := g.sittingsOf(); err != nil {
		return err
	}
	return g.marks()
}

// sittingsOf reads the sittings; those around the period only to know whose they are.
func (g *reportGatherer) sittingsOf() error {
	p := g.in.Period
	g.sittings = map[catalog.SittingID]bool{}
	all, err := g.view.SittingsBetween(p.From.Add(-surroundings), p.To.Add(surroundings))
	if err != nil {
		return err
	}
	for _, s := range all {
		if g.observer != 0 && s.Observer != g.observer {
			continue
		}
		g.sittings[s.ID] = true
		if s.Day.Before(p.From) || !s.Day.Before(p.To) {
			continue
		}
		full, err := g.sitting(s)
		if err != nil {
			return err
		}
		g.in.Sittings = append(g.in.Sittings, full)
		counts, err := g.view.CountsOf(s.ID)
		if err != nil {
			return err
		}
		g.in.Counts = append(g.in.Counts, counts...)
	}
	return nil
}

// sitting reads what a sitting names.
func (g *reportGatherer) sitting(s catalog.Sitting) (report.Sitting, error) {
	full := report.Sitting{Sitting: s}
	if s.Observer != 0 {
		o, err := g.view.Observer(s.Observer)
		if err != nil {
			return full, err
		}
		full.Observer = &o
	}
	if s.Site != 0 {
		site, err := g.view.Site(s.Site)
		if err != nil {
			return full, err
		}
		full.Site = &site
	}
	if s.Setup != 0 {
		setup, err := g.view.Setup(s.Setup)
		if err != nil {
			return full, err
		}
		i, err := g.view.Instrument(setup.Instrument)
		if err != nil {
			return full, err
		}
		full.Setup, full.Instrument = &setup, &i
	}
	frames, err := g.view.FramesOf(s.ID)
	for _, f := range frames {
		if !f.Reference {
			full.Frames = append(full.Frames, f)
		}
	}
	return full, err
}

// own says whether a frame counts for the report: a reference does not, nor what
// another observer took.
func (g *reportGatherer) own(f catalog.Frame) bool {
	if f.Reference {
		return false
	}
	if f.Sitting == 0 {
		return g.observer == 0
	}
	return g.sittings[f.Sitting]
}

// looks reads the frames with discs and norths.
func (g *reportGatherer) looks() error {
	p := g.in.Period
	found, err := g.view.BearingsBetween(p.From.Add(-surroundings), p.To.Add(surroundings))
	if err != nil {
		return err
	}
	open, err := g.view.OpenWarnings()
	if err != nil {
		return err
	}
	for _, b := range found {
		f := b.Frame
		if !g.own(f) {
			continue
		}
		g.frames[f.ID] = f
		at := f.Middle(b.ClockCorrectionS)
		g.in.Looks = append(g.in.Looks, lookOf(b))
		if at.Before(p.From) || !at.Before(p.To) {
			continue
		}
		if b.Disc != nil {
			g.in.Discs = append(g.in.Discs, *b.Disc)
		}
		if b.North != nil {
			g.in.Norths = append(g.in.Norths, *b.North)
		}
		for _, w := range open {
			if w.Frame == f.ID {
				g.in.Warnings = append(g.in.Warnings, w)
			}
		}
	}
	return nil
}

// marks reads the marks: those of the period's sittings, and of its days where they
// belong to none.
func (g *reportGatherer) marks() error {
	p := g.in.Period
	within := map[catalog.SittingID]bool{}
	for _, s := range g.in.Sittings {
		within[s.ID] = true
	}
	return g.view.EachEntry(store.Query{From: p.From.Add(-surroundings), To: p.To.Add(surroundings)}, func(e catalog.Entry) error {
		at := e.Position.UTC
		switch {
		case !g.own(e.Frame):
		case within[e.Frame.Sitting], e.Frame.Sitting == 0 && !at.Before(p.From) && at.Before(p.To):
			g.in.Entries = append(g.in.Entries, e)
		default:
			g.in.Surroundings = append(g.in.Surroundings, e)
		}
		return nil
	})
}

// rest reads passages, and what ties marks and passages together.
func (g *reportGatherer) rest() (err error) {
	if g.in.Passages, err = g.view.Passages(); err != nil {
		return err
	}
	if g.in.Links, err = g.view.Links(); err != nil {
		return err
	}
	marked := map[catalog.MarkID]bool{}
	for _, e := range g.in.Entries {
		marked[e.Mark.ID] = true
	}
	joins, err := g.view.Joins()
	for _, j := range joins {
		if marked[j.Mark] {
			g.in.Joins = append(g.in.Joins, j)
		}
	}
	return err
}
