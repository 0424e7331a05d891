package observe

import (
	"fmt"
	"strings"

	"limbwatch/catalog"
	"limbwatch/catalog/exchange"
	"limbwatch/catalog/store"
)

// merger brings a record into a catalogue, noun by noun, so that what is named is
// there before what names it. Its maps lead from the record's ids to the
// catalogue's; what was left out has none.
type merger struct {
	tx          *store.Tx
	prefer      Preference
	done        Merged
	observers   map[catalog.ObserverID]catalog.ObserverID
	sites       map[catalog.SiteID]catalog.SiteID
	instruments map[catalog.InstrumentID]catalog.InstrumentID
	setups      map[catalog.SetupID]catalog.SetupID
	sittings    map[catalog.SittingID]catalog.SittingID
	frames      map[catalog.FrameID]catalog.FrameID
	marks       map[catalog.MarkID]catalog.MarkID
	brought     []catalog.Mark // new here, or as the record has them
	passages    map[catalog.PassageID]catalog.PassageID
}

// course is how the things of one noun are brought in.
//
//	id     where a thing keeps its id
//	name   what people call it; may be nil
//	local  puts the catalogue's ids for the record's; false when one was left out;
//	       nil when it names nothing
//	tidy   makes of a thing what is compared with the one here: what is the
//	       catalogue's own affair is not; nil: all of it
//	clash  what else of the catalogue stands in a new thing's way; may be nil
//	taken  is told what was added or changed, as it then stands; may be nil
type course[T store.Row, ID idOf] struct {
	noun  string
	id    func(*T) *ID
	name  func(T) string
	local func(*T) bool
	tidy  func(here T, there *T)
	clash func(*T) (*Conflict, error)
	taken func(T)
}

type idOf interface {
	~int64
	fmt.Stringer
}

// bring brings the things of one noun in, and gives the map of their ids.
func bring[T store.Row, ID idOf](m *merger, rows []T, c course[T, ID]) (map[ID]ID, error) {
	count := MergedNoun{Noun: c.noun, Read: len(rows)}
	ids := make(map[ID]ID, len(rows))
	var fresh []T
	var theirs []ID
	for _, row := range rows {
		id := *c.id(&row)
		if c.local != nil && !c.local(&row) {
			count.LeftOut++
			continue
		}
		met, err := store.Meet(&m.tx.View, row)
		if err != nil {
			return nil, err
		}
		if !met.Found {
			conflict, err := c.standsInTheWay(&row)
			if err != nil {
				return nil, err
			}
			if conflict != nil {
				if m.done.Conflicts = append(m.done.Conflicts, *conflict); m.prefer != PreferTheirs {
					count.LeftOut++
					continue
				}
			}
			*c.id(&row) = 0
			fresh, theirs = append(fresh, row), append(theirs, id)
			continue
		}
		here := *c.id(&met.Mine)
		if c.tidy != nil {
			c.tidy(met.Mine, &row)
		}
		differences := store.Differences(met.Mine, row)
		if !met.Removed && len(differences) == 0 {
			count.Same++
			ids[id] = here
			continue
		}
		conflict := Conflict{Noun: c.noun, ID: here.String(), Removed: met.Removed, Differences: differences}
		if c.name != nil {
			conflict.Name = c.name(met.Mine)
		}
		m.done.Conflicts = append(m.done.Conflicts, conflict)
		switch {
		case m.prefer == PreferTheirs:
			changed, err := store.Overwrite(m.tx, met, row)
			if err != nil {
				return nil, fmt.Errorf("%s %s: %w", c.noun, here, err)
			}
			count.Changed++
			c.tell(changed)
			ids[id] = here
		case met.Removed:
			count.LeftOut++
		default:
			count.LeftOut++
			ids[id] = here
		}
	}
	added, err := store.Insert(m.tx, fresh)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", c.noun, err)
	}
	for i := range added {
		ids[theirs[i]] = *c.id(&added[i])
		c.tell(added[i])
	}
	count.Added = len(added)
	m.count(count)
	return ids, nil
}

func (c course[T, ID]) standsInTheWay(row *T) (*Conflict, error) {
	if c.clash == nil {
		return nil, nil
	}
	return c.clash(row)
}

func (c course[T, ID]) tell(row T) {
	if c.taken != nil {
		c.taken(row)
	}
}

// count notes what became of a noun; marks come in several goes.
func (m *merger) count(n MergedNoun) {
	if last := len(m.done.Nouns) - 1; last >= 0 && m.done.Nouns[last].Noun == n.Noun {
		l := &m.done.Nouns[last]
		l.Read, l.Added, l.Same, l.Changed, l.LeftOut = l.Read+n.Read, l.Added+n.Added, l.Same+n.Same, l.Changed+n.Changed, l.LeftOut+n.LeftOut
		return
	}
	if n.Read > 0 {
		m.done.Nouns = append(m.done.Nouns, n)
	}
}

// at puts the catalogue's id for one of the record's; zero stays zero.
func at[ID ~int64](ids map[ID]ID, id *ID) bool {
	if *id == 0 {
		return true
	}
	here, ok := ids[*id]
	*id = here
	return ok
}

func (m *merger) merge(r exchange.Record) error {
	for _, step := range []func(exchange.Record) error{m.people, m.equipment, m.observations, m.geometry, m.markings, m.following} {
		if err := step(r); err != nil {
			return err
		}
	}
	return nil
}

// Which one is meant when none is named is the catalogue's own affair: a new one
// becomes it only where there was none.

func (m *merger) people(r exchange.Record) (err error) {
	if _, err := m.tx.DefaultObserver(); err == nil {
		r.Observers = without(r.Observers, func(o *catalog.Observer) { o.Default = false })
	} else if !missing(err) {
		return err
	}
	m.observers, err = bring(m, r.Observers, course[catalog.Observer, catalog.ObserverID]{
		noun: "observer",
		id:   func(o *catalog.Observer) *catalog.ObserverID { return &o.ID },
		name: func(o catalog.Observer) string { return o.Name },
		tidy: func(here catalog.Observer, there *catalog.Observer) { there.Default = here.Default },
	})
	if err != nil {
		return err
	}
	if _, err := m.tx.DefaultSite(); err == nil {
		r.Sites = without(r.Sites, func(s *catalog.Site) { s.Default = false })
	} else if !missing(err) {
		return err
	}
	m.sites, err = bring(m, r.Sites, course[catalog.Site, catalog.SiteID]{
		noun: "site",
		id:   func(s *catalog.Site) *catalog.SiteID { return &s.ID },
		name: func(s catalog.Site) string { return s.Name },
		tidy: func(here catalog.Site, there *catalog.Site) { there.Default = here.Default },
	})
	return err
}

// without gives a changed copy of things.
func without[T any](things []T, change func(*T)) []T {
	out := make([]T, len(things))
	for i, thing := range things {
		change(&thing)
		out[i] = thing
	}
	return out
}

func (m *merger) equipment(r exchange.Record) (err error) {
	m.instruments, err = bring(m, r.Instruments, course[catalog.Instrument, catalog.InstrumentID]{
		noun: "instrument",
		id:   func(i *catalog.Instrument) *catalog.InstrumentID { return &i.ID },
		name: func(i catalog.Instrument) string { return i.Name },
	})
	if err != nil {
		return err
	}
	if _, err := m.tx.DefaultSetup(); err == nil {
		r.Setups = without(r.Setups, func(s *catalog.Setup) { s.Default = false })
	} else if !missing(err) {
		return err
	}
	m.setups, err = bring(m, r.Setups, course[catalog.Setup, catalog.SetupID]{
		noun:  "set-up",
		id:    func(s *catalog.Setup) *catalog.SetupID { return &s.ID },
		name:  func(s catalog.Setup) string { return s.Name },
		local: func(s *catalog.Setup) bool { return at(m.instruments, &s.Instrument) },
		tidy:  func(here catalog.Setup, there *catalog.Setup) { there.Default = here.Default },
	})
	return err
}

func (m *merger) observations(r exchange.Record) (err error) {
	m.sittings, err = bring(m, r.Sittings, course[catalog.Sitting, catalog.SittingID]{
		noun: "sitting",
		id:   func(s *catalog.Sitting) *catalog.SittingID { return &s.ID },
		name: func(s catalog.Sitting) string { return s.Day.Format("2006-01-02") },
		local: func(s *catalog.Sitting) bool {
			return at(m.observers, &s.Observer) && at(m.setups, &s.Setup) && at(m.sites, &s.Site)
		},
	})
	if err != nil {
		return err
	}
	_, err = bring(m, r.Counts, course[catalog.Count, catalog.CountID]{
		noun:  "count",
		id:    func(c *catalog.Count) *catalog.CountID { return &c.ID },
		name:  func(c catalog.Count) string { return c.Tally.String() },
		local: func(c *catalog.Count) bool { return at(m.sittings, &c.Sitting) },
	})
	if err != nil {
		return err
	}
	m.frames, err = bring(m, r.Frames, course[catalog.Frame, catalog.FrameID]{
		noun:  "frame",
		id:    func(f *catalog.Frame) *catalog.FrameID { return &f.ID },
		local: func(f *catalog.Frame) bool { return at(m.sittings, &f.Sitting) },
		// Where a file lies is a matter of the machine.
		tidy: func(here catalog.Frame, there *catalog.Frame) {
			if here.SHA256 == there.SHA256 {
				there.Path = here.Path
			}
		},
	})
	return err
}

func (m *merger) geometry(r exchange.Record) error {
	_, err := bring(m, r.Discs, course[catalog.Disc, catalog.DiscID]{
		noun:  "disc",
		id:    func(d *catalog.Disc) *catalog.DiscID { return &d.ID },
		local: func(d *catalog.Disc) bool { return at(m.frames, &d.Frame) },
	})
	if err != nil {
		return err
	}
	_, err = bring(m, r.Norths, course[catalog.North, catalog.NorthID]{
		noun:  "north",
		id:    func(n *catalog.North) *catalog.NorthID { return &n.ID },
		local: func(n *catalog.North) bool { return at(m.frames, &n.Frame) && at(m.frames, &n.From) },
	})
	if err != nil {
		return err
	}
	for _, w := range r.Warnings {
		if err := m.warning(w); err != nil {
			return err
		}
	}
	return nil
}

// warning brings a warning in; whether it still stands is seen at the end. One that stands
// here takes a person's word from there, and keeps its own: neither contradicts.
func (m *merger) warning(w catalog.Warning) error {
	if !at(m.frames, &w.Frame) {
		return nil
	}
	if s := w.Settled; s != nil {
		settled := *s
		if !at(m.observers, &settled.By) {
			settled.By = 0
		}
		w.Settled = &settled
	}
	here, err := m.tx.WarningsOf(w.Frame)
	if err != nil {
		return err
	}
	for _, stands := range here {
		if stands.Cause != w.Cause || stands.Basis != w.Basis {
			continue
		}
		if stands.Open() {
			stands.Settled = w.Settled
			_, err = m.tx.SetWarning(stands)
		}
		return err
	}
	w.ID = 0
	if stood, err := m.tx.WarningKnown(w.UUID); err != nil || stood { // taken out of sight here
		return err
	}
	_, err = m.tx.SetWarning(w)
	return err
}

// markings brings the marks in, those first that name no other.
func (m *merger) markings(r exchange.Record) error {
	m.marks = map[catalog.MarkID]catalog.MarkID{}
	rest := r.Marks
	for len(rest) > 0 {
		var ready, later []catalog.Mark
		waiting := map[catalog.MarkID]bool{}
		for _, mark := range rest {
			waiting[mark.ID] = true
		}
		for _, mark := range rest {
			if waiting[mark.SameAs] {
				later = append(later, mark)
			} else {
				ready = append(ready, mark)
			}
		}
		if len(ready) == 0 { // they name one another in a ring: which is the first does not matter
			later[0].SameAs = 0
			m.note("mark %s names itself by way of others: that it is the same as they was left out", later[0].UUID)
			rest = later
			continue
		}
		ids, err := bring(m, ready, course[catalog.Mark, catalog.MarkID]{
			noun: "mark",
			id:   func(mark *catalog.Mark) *catalog.MarkID { return &mark.ID },
			name: func(mark catalog.Mark) string { return mark.Label },
			local: func(mark *catalog.Mark) bool {
				if !at(m.marks, &mark.SameAs) {
					mark.SameAs = 0
				}
				return at(m.frames, &mark.Frame) && at(m.observers, &mark.Observer)
			},
			taken: func(mark catalog.Mark) { m.brought = append(m.brought, mark) },
		})
		if err != nil {
			return err
		}
		for theirs, here := range ids {
			m.marks[theirs] = here
		}
		rest = later
	}
	return nil
}

func (m *merger) note(format string, args ...any) {
	m.done.Notes = append(m.done.Notes, fmt.Sprintf(format, args...))
}

func (m *merger) following(r exchange.Record) (err error) {
	taken := map[string]bool{}
	present, err := m.tx.Passages()
	if err != nil {
		return err
	}
	for _, p := range present {
		taken[p.Name] = true
	}
	m.passages, err = bring(m, r.Passages, course[catalog.Passage, catalog.PassageID]{
		noun: "passage",
		id:   func(p *catalog.Passage) *catalog.PassageID { return &p.ID },
		name: func(p catalog.Passage) string { return p.Name },
		// A name that was given here in place of one already taken is no difference.
		tidy: func(here catalog.Passage, there *catalog.Passage) {
			if renamed(here.Name, there.Name) {
				there.Name = here.Name
			}
		},
		clash: func(p *catalog.Passage) (*Conflict, error) {
			name := p.Name
			for i := 2; taken[p.Name]; i++ {
				p.Name = fmt.Sprintf("%s (%d)", name, i)
			}
			if p.Name != name {
				m.note("passage %q is called %q here, where that name is taken by another", name, p.Name)
			}
			taken[p.Name] = true
			return nil, nil
		},
	})
	if err != nil {
		return err
	}
	_, err = bring(m, r.Joins, course[catalog.Join, catalog.JoinID]{
		noun:  "join",
		id:    func(j *catalog.Join) *catalog.JoinID { return &j.ID },
		local: func(j *catalog.Join) bool { return at(m.marks, &j.Mark) && at(m.passages, &j.Passage) },
		tidy: func(here catalog.Join, there *catalog.Join) {
			m.weighedHere(here.By, here.Odds, there.By, &there.Odds)
		},
		clash: m.otherPassage,
	})
	if err != nil {
		return err
	}
	_, err = bring(m, r.Links, course[catalog.Link, catalog.LinkID]{
		noun:  "link",
		id:    func(l *catalog.Link) *catalog.LinkID { return &l.ID },
		local: func(l *catalog.Link) bool { return at(m.passages, &l.From) && at(m.passages, &l.To) },
		tidy: func(here catalog.Link, there *catalog.Link) {
			m.weighedHere(here.By, here.Odds, there.By, &there.Odds)
		},
	})
	return err
}

// weighedHere lets the odds stand that the program found here, where it said the same
// with other odds there: they hang on what else each catalogue has, and nobody typed
// them, so that they are no contradiction. Only who prefers theirs gets theirs.
func (m *merger) weighedHere(by catalog.Voice, odds *float64, theirBy catalog.Voice, theirs **float64) {
	if by == catalog.ByProgram && theirBy == catalog.ByProgram && m.prefer != PreferTheirs {
		*theirs = odds
	}
}

// renamed says whether a name is another one with a number behind it.
func renamed(name, original string) bool {
	rest, ok := strings.CutPrefix(name, original+" (")
	return ok && strings.HasSuffix(rest, ")")
}

// otherPassage finds the passage that a mark belongs to here, when it is to belong
// to another: it can belong to one only. Theirs takes its place when they are
// preferred.
func (m *merger) otherPassage(j *catalog.Join) (*Conflict, error) {
	if j.State != catalog.Made {
		return nil, nil
	}
	held, err := m.tx.JoinsOf(j.Mark)
	if err != nil {
		return nil, err
	}
	for _, h := range held {
		if h.State != catalog.Made || h.Passage == j.Passage {
			continue
		}
		if m.prefer == PreferTheirs {
			if err := m.tx.RemoveJoin(h.ID, h.Revision); err != nil {
				return nil, err
			}
		}
		here, err := m.tx.Passage(h.Passage)
		if err != nil {
			return nil, err
		}
		there, err := m.tx.Passage(j.Passage)
		if err != nil {
			return nil, err
		}
		return &Conflict{Noun: "join", ID: h.ID.String(),
			Why: fmt.Sprintf("mark %s belongs to passage %s here and to %s there", h.Mark, here.Name, there.Name)}, nil
	}
	return nil, nil
}
