package observe

import (
	"context"
	"errors"
	"fmt"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/exchange"
	"limbwatch/catalog/store"
)

// Preference says what holds where a record from elsewhere contradicts the
// catalogue. Its zero refuses the whole record.
type Preference uint8

// The preferences: nothing is kept while anything contradicts; what stands here
// stays; what the file says is taken.
const (
	RefuseConflicts Preference = iota
	PreferMine
	PreferTheirs
)

// ParsePreference reads a preference: refuse, mine or theirs.
func ParsePreference(text string) (Preference, error) {
	for i, name := range []string{"refuse", "mine", "theirs"} {
		if name == text {
			return Preference(i), nil
		}
	}
	return 0, fmt.Errorf("preference %q: want refuse, mine or theirs", text)
}

// MergeOptions of ImportRecord.
//
//	Source  where the record is from, a file's name
//	DryRun  find what would become of it, keep nothing
//	Prefer  what holds where it contradicts the catalogue
type MergeOptions struct {
	Source string
	DryRun bool
	Prefer Preference
}

// Merged tells what became of a record.
//
//	Unplaced  its marks that stand here without a position
//	Slips     those new here that can hardly be meant, unless Force was said
//	Hidden    those new here that lay behind the Sun
type Merged struct {
	Nouns         []MergedNoun
	Conflicts     []Conflict
	Notes         []string
	Unplaced      []Unplaced
	Slips, Hidden []OddMark
}

// MergedNoun counts what became of the things of one noun: Read = Added + Same +
// Changed + LeftOut.
//
//	Same     here already, as they are
//	Changed  here, and now as the file has them
//	LeftOut  here otherwise and kept so, or hanging on something that was left out
type MergedNoun struct {
	Noun                                string
	Read, Added, Same, Changed, LeftOut int
}

// Conflict is a thing of the record that stands here otherwise.
//
//	ID, Name  what it is here
//	Removed   it was removed here
//	Why       in words, when it is neither that nor a difference
type Conflict struct {
	Noun, ID, Name string
	Removed        bool
	Differences    []store.Difference
	Why            string
}

func (c Conflict) String() string {
	what := fmt.Sprintf("%s %s", c.Noun, c.ID)
	if c.Name != "" {
		what += fmt.Sprintf(" %q", c.Name)
	}
	switch {
	case c.Why != "":
		return what + ": " + c.Why
	case c.Removed:
		return what + " was removed here"
	}
	text := what
	for i, d := range c.Differences {
		text += map[bool]string{true: ": ", false: "; "}[i == 0] + differenceInWords(d)
	}
	return text
}

// differenceInWords says what stands here and there, to six digits where that is enough to
// tell the two apart.
func differenceInWords(d store.Difference) string {
	here, there := valueInWords(d.Here, "%.6g"), valueInWords(d.There, "%.6g")
	if here == there {
		here, there = valueInWords(d.Here, "%v"), valueInWords(d.There, "%v")
	}
	return fmt.Sprintf("%s is %s here and %s there", d.Column, here, there)
}

func valueInWords(v any, float string) string {
	switch v := v.(type) {
	case float64:
		return fmt.Sprintf(float, v)
	case nil:
		return "nothing"
	}
	if text := fmt.Sprintf("%.60s", fmt.Sprint(v)); text != "" {
		return text
	}
	return "nothing"
}

// ConflictsError says that nothing was kept, because the record contradicts the
// catalogue.
type ConflictsError struct{ Merged Merged }

func (e *ConflictsError) Error() string {
	first := e.Merged.Conflicts[0]
	if len(e.Merged.Conflicts) == 1 {
		return fmt.Sprintf("one thing of the record stands here otherwise, so nothing was kept: %s %s", first.Noun, first.ID)
	}
	return fmt.Sprintf("%d things of the record stand here otherwise, so nothing was kept; the first: %s %s",
		len(e.Merged.Conflicts), first.Noun, first.ID)
}

// ImportRecord brings a whole record into the catalogue, as one operation. What has
// the same UUID is the same thing; so is what there can be only one of: an observer
// of a name, a picture of that content, the disc of a frame. Errors:
// *ConflictsError, unless a preference was given; *SlipsError, unless Force was said.
func (k Keeper) ImportRecord(ctx context.Context, r exchange.Record, opts MergeOptions) (Merged, error) {
	if opts.Source == "" {
		opts.Source = "import"
	}
	var m merger
	err := k.update(ctx, "import record "+opts.Source, func(tx *store.Tx) error {
		m = merger{tx: tx, prefer: opts.Prefer}
		if err := m.merge(r); err != nil {
			return err
		}
		if err := m.judge(k.Force); err != nil {
			return err
		}
		switch {
		case opts.DryRun:
		case len(m.done.Conflicts) > 0 && opts.Prefer == RefuseConflicts:
			return &ConflictsError{Merged: m.done}
		case len(m.done.Slips) > 0:
			return &SlipsError{Merged: m.done}
		}
		if err := tx.Refresh(); err != nil {
			return err
		}
		here := map[catalog.MarkID]bool{}
		for _, id := range m.marks {
			here[id] = true
		}
		var err error
		if m.done.Unplaced, err = unplacedOf(&tx.View, func(id catalog.MarkID) bool { return here[id] }); err == nil && opts.DryRun {
			err = errDryRun
		}
		return err
	})
	if errors.Is(err, errDryRun) {
		err = nil
	}
	return m.done, err
}

// RecordBetween gathers all that the catalogue keeps of from ≤ t < to, with
// everything it names: whole when both are zero.
func (k Keeper) RecordBetween(ctx context.Context, from, to time.Time) (r exchange.Record, err error) {
	err = k.Store.View(ctx, func(v *store.View) error {
		g := gatherer{view: v, whole: from.IsZero() && to.IsZero()}
		if from.IsZero() {
			from = time.Date(1600, 1, 1, 0, 0, 0, 0, time.UTC)
		}
		if to.IsZero() {
			to = time.Date(2300, 1, 1, 0, 0, 0, 0, time.UTC)
		}
		r, err = g.gather(from, to)
		return err
	})
	return r, err
}

// gatherer reads a record out of a catalogue.
type gatherer struct {
	view   *store.View
	whole  bool
	r      exchange.Record
	frames map[catalog.FrameID]bool
}

func (g *gatherer) gather(from, to time.Time) (exchange.Record, error) {
	for _, step := range []func() error{
		func() error { return g.seen(from, to) }, g.framesNamed, g.marks, g.passages, g.sittings, g.people,
	} {
		if err := step(); err != nil {
			return exchange.Record{}, err
		}
	}
	return g.r, nil
}

// seen gathers the frames of the time.
func (g *gatherer) seen(from, to time.Time) (err error) {
	g.frames = map[catalog.FrameID]bool{}
	g.r.Frames, err = g.view.FramesBetween(from, to)
	for _, f := range g.r.Frames {
		g.frames[f.ID] = true
	}
	if err != nil {
		return err
	}
	g.r.Sittings, err = g.view.SittingsBetween(from, to.Add(-time.Millisecond))
	return err
}

// framesNamed gathers discs and norths, and the frames from which norths were taken
// over: those alone, not what they in turn were taken over from.
func (g *gatherer) framesNamed() error {
	ids := make([]catalog.FrameID, len(g.r.Frames))
	for i, seen := range g.r.Frames {
		ids[i] = seen.ID
	}
	discs, err := g.view.DiscsOf(ids)
	if err != nil {
		return err
	}
	warnings, err := g.view.WarningsOfAll(ids)
	if err != nil {
		return err
	}
	norths, err := g.view.NorthsOf(ids)
	if err != nil {
		return err
	}
	for _, id := range ids {
		if d, there := discs[id]; there {
			g.r.Discs = append(g.r.Discs, d)
		}
		g.r.Warnings = append(g.r.Warnings, warnings[id]...)
		n, there := norths[id]
		if !there {
			continue
		}
		g.r.Norths = append(g.r.Norths, n)
		if n.From == 0 || g.frames[n.From] {
			continue
		}
		f, err := g.view.Frame(n.From)
		if err != nil {
			return err
		}
		g.r.Frames, g.frames[f.ID] = append(g.r.Frames, f), true
	}
	return nil
}

// marks gathers what is marked on those frames.
func (g *gatherer) marks() error {
	g.r.Positions = map[catalog.MarkID]catalog.Position{}
	q := store.Query{References: true}
	if !g.whole && len(g.r.Frames) > 0 {
		q.From, q.To = span(g.r.Frames)
	}
	return g.view.EachEntry(q, func(e catalog.Entry) error {
		if g.frames[e.Frame.ID] {
			g.r.Marks = append(g.r.Marks, e.Mark)
			g.r.Positions[e.Mark.ID] = e.Position
		}
		return nil
	})
}

// span is a stretch of time that surely holds the frames, whatever their clocks'
// corrections.
func span(frames []catalog.Frame) (from, to time.Time) {
	from, to = frames[0].Taken, frames[0].Taken
	for _, f := range frames {
		if f.Taken.Before(from) {
			from = f.Taken
		}
		if f.Taken.After(to) {
			to = f.Taken
		}
	}
	const reach = (catalog.MaxClockCorrectionS + 86400) * time.Second
	return from.Add(-reach), to.Add(reach)
}

// passages gathers the passages of those marks, with joins and links.
func (g *gatherer) passages() error {
	marked := map[catalog.MarkID]bool{}
	for _, m := range g.r.Marks {
		marked[m.ID] = true
	}
	joins, err := g.view.Joins()
	if err != nil {
		return err
	}
	named := map[catalog.PassageID]bool{}
	for _, j := range joins {
		if marked[j.Mark] {
			g.r.Joins, named[j.Passage] = append(g.r.Joins, j), true
		}
	}
	links, err := g.view.Links()
	if err != nil {
		return err
	}
	for _, l := range links {
		if g.whole || named[l.From] && named[l.To] {
			g.r.Links = append(g.r.Links, l)
		}
	}
	all, err := g.view.Passages()
	for _, p := range all {
		if g.whole || named[p.ID] {
			g.r.Passages = append(g.r.Passages, p)
		}
	}
	return err
}

// sittings gathers those of the frames, and what was counted at them. A mark's
// sameness with one that is not gathered cannot be told.
func (g *gatherer) sittings() error {
	have := map[catalog.SittingID]bool{}
	for _, s := range g.r.Sittings {
		have[s.ID] = true
	}
	for _, f := range g.r.Frames {
		if f.Sitting == 0 || have[f.Sitting] {
			continue
		}
		s, err := g.view.Sitting(f.Sitting)
		if err != nil {
			return err
		}
		g.r.Sittings, have[s.ID] = append(g.r.Sittings, s), true
	}
	counts, err := g.view.Counts()
	for _, c := range counts {
		if have[c.Sitting] {
			g.r.Counts = append(g.r.Counts, c)
		}
	}
	return err
}

// people gathers who, where and with what: all of them for a whole record, else
// those who are named.
func (g *gatherer) people() error {
	observers, sites, setups := map[catalog.ObserverID]bool{}, map[catalog.SiteID]bool{}, map[catalog.SetupID]bool{}
	for _, s := range g.r.Sittings {
		observers[s.Observer], sites[s.Site], setups[s.Setup] = true, true, true
	}
	for _, m := range g.r.Marks {
		observers[m.Observer] = true
	}
	for _, w := range g.r.Warnings {
		if s := w.Settled; s != nil {
			observers[s.By] = true
		}
	}
	var err error
	if g.r.Observers, err = chosen(g, (*store.View).Observers, func(o catalog.Observer) bool { return observers[o.ID] }); err != nil {
		return err
	}
	if g.r.Sites, err = chosen(g, (*store.View).Sites, func(s catalog.Site) bool { return sites[s.ID] }); err != nil {
		return err
	}
	if g.r.Setups, err = chosen(g, (*store.View).Setups, func(s catalog.Setup) bool { return setups[s.ID] }); err != nil {
		return err
	}
	instruments := map[catalog.InstrumentID]bool{}
	for _, s := range g.r.Setups {
		instruments[s.Instrument] = true
	}
	g.r.Instruments, err = chosen(g, (*store.View).Instruments, func(i catalog.Instrument) bool { return instruments[i.ID] })
	return err
}

func chosen[T any](g *gatherer, list func(*store.View) ([]T, error), named func(T) bool) (out []T, err error) {
	all, err := list(g.view)
	for _, thing := range all {
		if g.whole || named(thing) {
			out = append(out, thing)
		}
	}
	return out, err
}
