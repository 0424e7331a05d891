package exchange

import (
	"bufio"
	"bytes"
	"encoding/json"
	"io"
	"slices"
	"time"

	"github.com/google/uuid"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// Write writes a record, written by program at an instant. The things of a noun stand
// in the order of their UUIDs, which is that in which they were made: the same record
// gives the same file, whatever catalogue it is in.
func Write(w io.Writer, r Record, program string, at time.Time) error {
	buffered := bufio.NewWriterSize(w, 1<<16)
	out := writer{encoder: json.NewEncoder(buffered), names: namesOf(r)}
	out.encoder.SetEscapeHTML(false)
	out.put(recordLine{head: head{Noun: "record"}, Version: Version, Program: program,
		Written: at.UTC().Format(time.RFC3339)})
	out.people(r)
	out.observations(r)
	out.followed(r)
	if out.err != nil {
		return out.err
	}
	return buffered.Flush()
}

// names are the UUIDs behind the ids of a record.
type names struct {
	observers   map[catalog.ObserverID]uuid.UUID
	sites       map[catalog.SiteID]uuid.UUID
	instruments map[catalog.InstrumentID]uuid.UUID
	setups      map[catalog.SetupID]uuid.UUID
	sittings    map[catalog.SittingID]uuid.UUID
	frames      map[catalog.FrameID]uuid.UUID
	marks       map[catalog.MarkID]uuid.UUID
	passages    map[catalog.PassageID]uuid.UUID
}

func namesOf(r Record) names {
	return names{
		observers:   named(r.Observers, func(o catalog.Observer) (catalog.ObserverID, uuid.UUID) { return o.ID, o.UUID }),
		sites:       named(r.Sites, func(s catalog.Site) (catalog.SiteID, uuid.UUID) { return s.ID, s.UUID }),
		instruments: named(r.Instruments, func(i catalog.Instrument) (catalog.InstrumentID, uuid.UUID) { return i.ID, i.UUID }),
		setups:      named(r.Setups, func(s catalog.Setup) (catalog.SetupID, uuid.UUID) { return s.ID, s.UUID }),
		sittings:    named(r.Sittings, func(s catalog.Sitting) (catalog.SittingID, uuid.UUID) { return s.ID, s.UUID }),
		frames:      named(r.Frames, func(f catalog.Frame) (catalog.FrameID, uuid.UUID) { return f.ID, f.UUID }),
		marks:       named(r.Marks, func(m catalog.Mark) (catalog.MarkID, uuid.UUID) { return m.ID, m.UUID }),
		passages:    named(r.Passages, func(p catalog.Passage) (catalog.PassageID, uuid.UUID) { return p.ID, p.UUID }),
	}
}

func named[T any, ID comparable](things []T, of func(T) (ID, uuid.UUID)) map[ID]uuid.UUID {
	all := make(map[ID]uuid.UUID, len(things))
	for _, t := range things {
		id, name := of(t)
		all[id] = name
	}
	return all
}

type writer struct {
	encoder *json.Encoder
	names   names
	err     error
}

// inOrder gives things in the order of their UUIDs.
func inOrder[T any](things []T, name func(T) uuid.UUID) []T {
	things = slices.Clone(things)
	slices.SortFunc(things, func(a, b T) int {
		x, y := name(a), name(b)
		return bytes.Compare(x[:], y[:])
	})
	return things
}

func (w *writer) put(line any) {
	if w.err == nil {
		w.err = w.encoder.Encode(line)
	}
}

func (w *writer) people(r Record) {
	for _, o := range inOrder(r.Observers, func(t catalog.Observer) uuid.UUID { return t.UUID }) {
		w.put(observerLine{head{"observer", o.UUID}, o.Name, o.Code, o.Default, o.Note})
	}
	for _, s := range inOrder(r.Sites, func(t catalog.Site) uuid.UUID { return t.UUID }) {
		w.put(siteLine{head{"site", s.UUID}, s.Name, s.LatDeg, s.LonDeg, s.ElevationM, s.Zone, s.Default, s.Note})
	}
	for _, i := range inOrder(r.Instruments, func(t catalog.Instrument) uuid.UUID { return t.UUID }) {
		w.put(instrumentLine{head{"instrument", i.UUID}, i.Name, i.ApertureMm, i.FocalMm, i.Note})
	}
	for _, s := range inOrder(r.Setups, func(t catalog.Setup) uuid.UUID { return t.UUID }) {
		line := setupLine{
			head: head{"setup", s.UUID}, Instrument: w.names.instruments[s.Instrument], Name: s.Name,
			WavelengthA: s.WavelengthA, PassbandA: s.PassbandA, Stacked: s.Stacked, PixelUm: s.PixelUm,
			WidthPx: s.WidthPx, HeightPx: s.HeightPx, Surface: layerOf(s.Surface), Edge: layerOf(s.Edge),
			Default: s.Default, Note: s.Note,
		}
		if s.ReflectionsKnown {
			line.Reflections = &s.Reflections
		}
		w.put(line)
	}
}

func (w *writer) observations(r Record) {
	for _, s := range inOrder(r.Sittings, func(t catalog.Sitting) uuid.UUID { return t.UUID }) {
		w.put(sittingLine{
			head: head{"sitting", s.UUID}, Observer: w.names.observers[s.Observer], Setup: w.names.setups[s.Setup],
			Site: w.names.sites[s.Site], Day: s.Day.Format(time.DateOnly), Looked: s.Looked,
			Seeing: ratingField(s.Seeing), Transparency: ratingField(s.Transparency),
			ClockCorrectionS: s.ClockCorrectionS, Tuning: s.Tuning, Note: s.Note,
		})
	}
	for _, c := range inOrder(r.Counts, func(t catalog.Count) uuid.UUID { return t.UUID }) {
		line := countLine{head: head{"count", c.UUID}, Sitting: w.names.sittings[c.Sitting], Tally: c.Tally.String(), Total: c.Total}
		if c.Split {
			line.North, line.South = &c.North, &c.South
		}
		w.put(line)
	}
	for _, f := range inOrder(r.Frames, func(t catalog.Frame) uuid.UUID { return t.UUID }) {
		w.put(frameLine{
			head: head{"frame", f.UUID}, Sitting: w.names.sittings[f.Sitting], Path: f.Path, SHA256: f.SHA256,
			Channel: f.Channel, Role: f.Role, Taken: instant(f.Taken), Moment: f.Moment, ExposureS: f.ExposureS,
			SigmaS: f.SigmaS, TimeSource: f.TimeSource, Zone: f.Zone, WidthPx: f.WidthPx, HeightPx: f.HeightPx,
			Reference: f.Reference, Note: f.Note,
		})
	}
	for _, d := range inOrder(r.Discs, func(t catalog.Disc) uuid.UUID { return t.UUID }) {
		l := d.Limb
		w.put(discLine{
			head: head{"disc", d.UUID}, Frame: w.names.frames[d.Frame], X: l.Centre.X, Y: l.Centre.Y, RadiusPx: l.RadiusPx,
			Flattening: l.Flattening, ShortAxis: degrees(l.ShortAxis), Cov: covField(l.Cov), Layer: layerField(d.Layer),
			LayerFrom: d.LayerFrom.String(), Method: d.Method.String(), RMSPx: d.RMSPx, WidthPx: d.WidthPx, ArcDeg: d.ArcDeg,
			Points: d.Points, Rejected: d.Rejected, Accepted: d.Accepted, Note: d.Note,
		})
	}
	for _, n := range inOrder(r.Norths, func(t catalog.North) uuid.UUID { return t.UUID }) {
		w.put(northLine{
			head: head{"north", n.UUID}, Frame: w.names.frames[n.Frame], Angle: degrees(n.Angle), Toward: n.Toward.String(),
			Mirrored: n.Mirrored, Sigma: degrees(n.Sigma), Method: n.Method, Parity: n.Parity,
			From: w.names.frames[n.From], Note: n.Note,
		})
	}
	for _, m := range inOrder(r.Marks, func(t catalog.Mark) uuid.UUID { return t.UUID }) {
		w.put(w.mark(m, r.Positions))
	}
}

func (w *writer) mark(m catalog.Mark, positions map[catalog.MarkID]catalog.Position) markLine {
	g := m.Geometry
	line := markLine{
		head: head{"mark", m.UUID}, Frame: w.names.frames[m.Frame], Kind: m.Kind, Shape: g.Shape.String(),
		SigmaClickPx: g.SigmaClickPx, SigmaR: g.SigmaR, SigmaPA: degrees(g.SigmaPA), SigmaPlace: degrees(g.SigmaPlace),
		Height: layerOf(m.Height), Extent: m.Extent.String(), Spots: m.Spots, Label: m.Label, Aliases: m.Aliases, Note: m.Note,
		Observer: w.names.observers[m.Observer], MarkedAt: instant(m.MarkedAt), SameAs: w.names.marks[m.SameAs],
	}
	line.Form, line.Vertices = g.Written()
	if g.Form() == catalog.FormPolar {
		limb := layerField(g.PolarLimb)
		line.PolarLimb = &limb
	}
	if p, ok := positions[m.ID]; ok {
		line.Derived = derivedOf(p)
	}
	return line
}

func (w *writer) followed(r Record) {
	for _, p := range inOrder(r.Passages, func(t catalog.Passage) uuid.UUID { return t.UUID }) {
		w.put(passageLine{head{"passage", p.UUID}, p.Name, p.Kind, layerOf(p.Height), p.Note})
	}
	for _, j := range inOrder(r.Joins, func(t catalog.Join) uuid.UUID { return t.UUID }) {
		w.put(joinLine{head{"join", j.UUID}, w.names.marks[j.Mark], w.names.passages[j.Passage],
			j.State.String(), j.By.String(), j.Odds, j.Note})
	}
	for _, l := range inOrder(r.Links, func(t catalog.Link) uuid.UUID { return t.UUID }) {
		w.put(linkLine{head{"link", l.UUID}, w.names.passages[l.From], w.names.passages[l.To], l.Relation.String(),
			l.State.String(), l.By.String(), l.Odds, l.Note})
	}
}

func layerOf(l *coords.Layer) *layerField {
	if l == nil {
		return nil
	}
	return &layerField{l.HeightMm, l.SigmaMm}
}
