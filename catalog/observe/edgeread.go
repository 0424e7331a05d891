package observe

import (
	"cmp"
	"context"
	"runtime"
	"slices"
	"sort"
	"strconv"
	"time"

	"golang.org/x/sync/errgroup"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/rotation"
)

// edgeSurroundings are what prominences of one day are weighed against.
//
//	passages  with a filament on the disc, as the follower has them by the habits of
//	          the whole record
//	kept      the same as the catalogue has them
//	heights   of the passages
//	returns   which of them may be one cloud
//	looks     when the disc was looked over for filaments
type edgeSurroundings struct {
	passages []follow.Passage
	kept     []catalog.Passage
	heights  []passageHeight
	returns  []follow.Return
	looks    []time.Time
}

// passageHeight is a passage's height: as kept, else as its motion tells.
//
//	told     as it is shown; nil: not known
//	weighed  as it is weighed; zero: not known
type passageHeight struct {
	told    *coords.Layer
	weighed coords.Layer
}

// longestStretch bounds what is held in memory of a catalogue, but for one window.
const longestStretch = 400 * 24 * time.Hour

// checkEdges gives checks their answers. Those whose windows overlap share what is
// read, those of one window what is followed.
func (k Keeper) checkEdges(ctx context.Context, v *store.View, checks []*edgeCheck) error {
	ordered := slices.Clone(checks)
	slices.SortStableFunc(ordered, func(a, b *edgeCheck) int { return cmp.Or(a.UTC.Compare(b.UTC), cmp.Compare(a.without, b.without)) })
	for len(ordered) > 0 {
		from, to := ordered[0].window()
		n := 1
		for n < len(ordered) {
			next, end := ordered[n].window()
			if next.After(to) || end.Sub(from) > longestStretch {
				break
			}
			to = end
			n++
		}
		stretch, err := readEdgeStretch(v, from, to)
		if err != nil {
			return err
		}
		if err := stretch.weigh(ctx, ordered[:n], k.Now()); err != nil {
			return err
		}
		ordered = ordered[n:]
	}
	return nil
}

// weigh gives checks of the stretch, in the order of time, their answers: those of
// one window one after the other, windows several at a time.
func (s *edgeStretch) weigh(ctx context.Context, checks []*edgeCheck, now time.Time) error {
	var ofOneDay [][]*edgeCheck
	for _, c := range checks {
		from, _ := c.window()
		if n := len(ofOneDay); n > 0 {
			if before, _ := ofOneDay[n-1][0].window(); before.Equal(from) {
				ofOneDay[n-1] = append(ofOneDay[n-1], c)
				continue
			}
		}
		ofOneDay = append(ofOneDay, []*edgeCheck{c})
	}
	weighing, ctx := errgroup.WithContext(ctx)
	weighing.SetLimit(runtime.GOMAXPROCS(0))
	for _, day := range ofOneDay {
		weighing.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			return s.weighDay(ctx, day, now)
		})
	}
	return weighing.Wait()
}

// edgeStretch is a stretch of the catalogue as edge checks need it: the joined marks
// of filaments and prominences in the order of time, and the looks.
type edgeStretch struct {
	sighted  []follow.Sighting // the passage of each is what it is pinned to
	marks    []catalog.MarkID
	flat     []follow.HeightReading // as read on the photosphere; zero: not
	looks    []time.Time
	passages map[string]catalog.Passage // by what sightings are pinned to
	links    []catalog.Link             // between passages, of any relation
	habits   *follow.Habits             // of the record; nil: not known
}

func readEdgeStretch(v *store.View, from, to time.Time) (*edgeStretch, error) {
	s := &edgeStretch{passages: map[string]catalog.Passage{}}
	var err error
	if s.habits, err = habitsOf(v); err != nil {
		return nil, err
	}
	var entries []catalog.Entry
	q := store.Query{From: from, To: to, Kinds: []catalog.Kind{catalog.Filament, catalog.Prominence}}
	err = v.EachEntry(q, func(e catalog.Entry) error {
		sighting, ok := sightingOf(e)
		if !ok || e.Join == nil {
			return nil
		}
		sighting.ID, sighting.Pinned = strconv.Itoa(len(s.sighted)), e.Join.Passage.String()
		flat, _ := flatReading(e)
		s.flat = append(s.flat, flat)
		s.sighted, s.marks, entries = append(s.sighted, sighting), append(s.marks, e.Mark.ID), append(entries, e)
		return nil
	})
	if err != nil {
		return nil, err
	}
	if err := drawShapes(newBearingsReader(v), entries, s.sighted); err != nil {
		return nil, err
	}
	if err := s.readPassages(v); err != nil {
		return nil, err
	}
	s.looks, err = filamentLooks(v, from, to)
	return s, err
}

// readPassages reads those that have a filament, and what links them.
func (s *edgeStretch) readPassages(v *store.View) error {
	var ids []catalog.PassageID
	for _, sighting := range s.sighted {
		if _, known := s.passages[sighting.Pinned]; known || sighting.Kind != catalog.Filament {
			continue
		}
		id, err := catalog.ParsePassageID(sighting.Pinned)
		if err != nil {
			return err
		}
		s.passages[sighting.Pinned] = catalog.Passage{ID: id}
		ids = append(ids, id)
	}
	kept, err := passagesNamed(v, ids)
	if err != nil {
		return err
	}
	for _, p := range kept {
		s.passages[p.ID.String()] = p
	}
	s.links, err = v.LinksFrom(ids)
	return err
}

// weighDay weighs the prominences of one day. Only their own window of the stretch
// counts, so that an answer is the same whatever else is asked.
func (s *edgeStretch) weighDay(ctx context.Context, checks []*edgeCheck, now time.Time) error {
	from, to := checks[0].window()
	at := func(t time.Time) int {
		return sort.Search(len(s.sighted), func(i int) bool { return !s.sighted[i].UTC.Before(t) })
	}
	first, end := at(from), at(to)
	i, _ := slices.BinarySearchFunc(s.looks, from, time.Time.Compare)
	j, _ := slices.BinarySearchFunc(s.looks, to, time.Time.Compare)
	followed := map[catalog.MarkID]edgeSurroundings{} // without each of these; 0: with all
	for _, c := range checks {
		without := c.without
		if !slices.Contains(s.marks[first:end], without) {
			without = 0 // it is in no passage
		}
		around, known := followed[without]
		if !known {
			var err error
			if around, err = s.follow(ctx, first, end, without); err != nil {
				return err
			}
			around.looks = s.looks[i:j:j]
			followed[without] = around
		}
		c.weigh(around, now)
	}
	return nil
}

// follow runs the follower over the passages that have a filament on the disc.
func (s *edgeStretch) follow(ctx context.Context, first, end int, without catalog.MarkID) (edgeSurroundings, error) {
	onDisc := map[string]bool{}
	for i := first; i < end; i++ {
		if s.sighted[i].Kind == catalog.Filament && s.marks[i] != without {
			onDisc[s.sighted[i].Pinned] = true
		}
	}
	var filaments []follow.Sighting
	for i := first; i < end; i++ {
		if onDisc[s.sighted[i].Pinned] && s.marks[i] != without {
			filaments = append(filaments, s.sighted[i])
		}
	}
	result, err := follow.Follow(ctx, filaments, follow.Options{Habits: s.habits})
	if err != nil {
		return edgeSurroundings{}, marksNamed(err, func(i int) catalog.MarkID { return s.marks[i] })
	}
	found := edgeSurroundings{passages: result.Passages, kept: make([]catalog.Passage, len(result.Passages))}
	found.heights = make([]passageHeight, len(result.Passages))
	for i := range result.Passages {
		p := &result.Passages[i]
		found.kept[i] = s.passages[p.Sightings[0].Pinned]
		found.heights[i] = s.heightFor(p, found.kept[i].Height)
	}
	found.returns = s.returnsAmong(found.kept)
	return found, nil
}

// returnsAmong are the returns that somebody holds for possible, by the places of their
// passages in a list.
func (s *edgeStretch) returnsAmong(passages []catalog.Passage) (out []follow.Return) {
	at := func(id catalog.PassageID) int {
		return slices.IndexFunc(passages, func(p catalog.Passage) bool { return p.ID == id })
	}
	for _, l := range s.links {
		if l.Relation != catalog.Return || l.State == catalog.Refused {
			continue
		}
		r := follow.Return{Earlier: at(l.From), Later: at(l.To), Odds: 1}
		if l.Odds != nil && l.By == catalog.ByProgram {
			r.Odds = *l.Odds
		}
		if r.Earlier >= 0 && r.Later >= 0 {
			out = append(out, r)
		}
	}
	return out
}

// heightFor is the height of a passage, which may be kept.
func (s *edgeStretch) heightFor(p *follow.Passage, kept *coords.Layer) passageHeight {
	if kept != nil {
		return passageHeight{told: kept, weighed: *kept}
	}
	fit := s.heightOf(p)
	if fit == nil {
		return passageHeight{}
	}
	return passageHeight{
		told:    &coords.Layer{HeightMm: fit.HeightMm, SigmaMm: fit.SigmaMm},
		weighed: fit.Tempered(rotation.PriorOf(catalog.Filament.String())),
	}
}

// heightOf is the height of a passage's filament as its motion tells; nil where its
// sightings do not.
func (s *edgeStretch) heightOf(p *follow.Passage) *follow.HeightFit {
	var readings []follow.HeightReading
	for _, sighting := range p.Sightings {
		if r := s.flat[entryOf(sighting)]; !r.UTC.IsZero() {
			readings = append(readings, r)
		}
	}
	fit, err := fitHeight(catalog.Filament, readings)
	if err != nil {
		return nil
	}
	return &fit
}

// filamentLooks are the times at which the disc was looked over for filaments, in
// their order: the own frames that show the surface, of sittings that did not leave
// them out.
func filamentLooks(v *store.View, from, to time.Time) ([]time.Time, error) {
	frames, err := v.FramesBetween(from, to)
	if err != nil {
		return nil, err
	}
	var ids []catalog.SittingID
	for _, f := range frames {
		if n := len(ids); n == 0 || ids[n-1] != f.Sitting {
			ids = append(ids, f.Sitting)
		}
	}
	sittings, err := v.SittingsOf(ids)
	if err != nil {
		return nil, err
	}
	var looks []time.Time
	for _, f := range frames {
		if f.Reference || f.Role == catalog.RoleLimb {
			continue
		}
		s := sittings[f.Sitting]
		if len(s.Looked) > 0 && s.Looked[catalog.Filament] == catalog.NotLooked {
			continue
		}
		looks = append(looks, f.Middle(s.ClockCorrectionS))
	}
	slices.SortFunc(looks, time.Time.Compare)
	return looks, nil
}
