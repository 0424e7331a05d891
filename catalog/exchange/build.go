package exchange

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// record turns the lines that were gathered into things whose ids are their places.
func (in *reader) record() (r Record, err error) {
	b := builder{in: in}
	r.Observers = build(&b, in.observers, func(l observerLine) (uuid.UUID, catalog.Observer) {
		return l.UUID, catalog.Observer{ID: own[catalog.ObserverID](&b, l.head), Record: kept(l.head),
			Name: l.Name, Code: l.Code, Default: l.Default, Note: l.Note}
	})
	r.Sites = build(&b, in.sites, func(l siteLine) (uuid.UUID, catalog.Site) {
		return l.UUID, catalog.Site{ID: own[catalog.SiteID](&b, l.head), Record: kept(l.head), Name: l.Name,
			LatDeg: l.LatDeg, LonDeg: l.LonDeg, ElevationM: l.ElevationM, Zone: l.Zone, Default: l.Default, Note: l.Note}
	})
	r.Instruments = build(&b, in.instruments, func(l instrumentLine) (uuid.UUID, catalog.Instrument) {
		return l.UUID, catalog.Instrument{ID: own[catalog.InstrumentID](&b, l.head), Record: kept(l.head),
			Name: l.Name, ApertureMm: l.ApertureMm, FocalMm: l.FocalMm, Note: l.Note}
	})
	r.Setups = build(&b, in.setups, b.setup)
	r.Sittings = build(&b, in.sittings, b.sitting)
	r.Counts = build(&b, in.counts, b.count)
	r.Frames = build(&b, in.frames, b.frame)
	r.Discs = build(&b, in.discs, b.disc)
	r.Norths = build(&b, in.norths, b.north)
	r.Marks = build(&b, in.marks, b.mark)
	r.Passages = build(&b, in.passages, func(l passageLine) (uuid.UUID, catalog.Passage) {
		return l.UUID, catalog.Passage{ID: own[catalog.PassageID](&b, l.head), Record: kept(l.head),
			Name: l.Name, Kind: l.Kind, Height: layer(l.Height), Note: l.Note}
	})
	r.Joins = build(&b, in.joins, b.join)
	r.Links = build(&b, in.links, b.link)
	return r, b.err
}

// builder keeps the first error.
type builder struct {
	in  *reader
	err error
}

func (b *builder) fail(name uuid.UUID, err error) {
	if b.err == nil && err != nil {
		p := b.in.places[name]
		b.err = &LineError{p.line, fmt.Errorf("%s %s: %w", p.noun, name, err)}
	}
}

func build[L any, T interface{ Validate() error }](b *builder, lines []L, one func(L) (uuid.UUID, T)) []T {
	var things []T
	for _, l := range lines {
		name, thing := one(l)
		b.fail(name, thing.Validate())
		if b.err != nil {
			return nil
		}
		things = append(things, thing)
	}
	return things
}

func kept(h head) catalog.Record { return catalog.Record{UUID: h.UUID} }

func own[ID ~int64](b *builder, h head) ID { return ID(b.in.places[h.UUID].id) }

// other is the id of something that a line names; zero for nothing.
func other[ID ~int64](b *builder, h head, noun string, name uuid.UUID) ID {
	if name == uuid.Nil {
		return 0
	}
	p, ok := b.in.places[name]
	switch {
	case !ok:
		b.fail(h.UUID, fmt.Errorf("names %s %s, which is not in the file", noun, name))
	case p.noun != noun:
		b.fail(h.UUID, fmt.Errorf("names %s as a %s, which is a %s on line %d", name, noun, p.noun, p.line))
	}
	return ID(p.id)
}

func layer(l *layerField) *coords.Layer {
	if l == nil {
		return nil
	}
	return &coords.Layer{HeightMm: l.HeightMm, SigmaMm: l.SigmaMm}
}

func (b *builder) setup(l setupLine) (uuid.UUID, catalog.Setup) {
	s := catalog.Setup{ID: own[catalog.SetupID](b, l.head), Record: kept(l.head),
		Instrument: other[catalog.InstrumentID](b, l.head, "instrument", l.Instrument), Name: l.Name,
		WavelengthA: l.WavelengthA, PassbandA: l.PassbandA, Stacked: l.Stacked, PixelUm: l.PixelUm,
		WidthPx: l.WidthPx, HeightPx: l.HeightPx, Surface: layer(l.Surface), Edge: layer(l.Edge),
		Default: l.Default, Note: l.Note}
	if l.Reflections != nil {
		s.Reflections, s.ReflectionsKnown = *l.Reflections, true
	}
	return l.UUID, s
}

func (b *builder) sitting(l sittingLine) (uuid.UUID, catalog.Sitting) {
	day, err := time.Parse(time.DateOnly, l.Day)
	b.fail(l.UUID, err)
	return l.UUID, catalog.Sitting{ID: own[catalog.SittingID](b, l.head), Record: kept(l.head),
		Observer: other[catalog.ObserverID](b, l.head, "observer", l.Observer),
		Setup:    other[catalog.SetupID](b, l.head, "setup", l.Setup),
		Site:     other[catalog.SiteID](b, l.head, "site", l.Site),
		Day:      day, Looked: l.Looked, Seeing: catalog.Rating(l.Seeing), Transparency: catalog.Rating(l.Transparency),
		ClockCorrectionS: l.ClockCorrectionS, Tuning: l.Tuning, Note: l.Note}
}

func (b *builder) count(l countLine) (uuid.UUID, catalog.Count) {
	tally, err := catalog.ParseTally(l.Tally)
	b.fail(l.UUID, err)
	c := catalog.Count{ID: own[catalog.CountID](b, l.head), Record: kept(l.head),
		Sitting: other[catalog.SittingID](b, l.head, "sitting", l.Sitting), Tally: tally, Total: l.Total}
	if l.North != nil && l.South != nil {
		c.North, c.South, c.Split = *l.North, *l.South, true
	} else if l.North != nil || l.South != nil {
		b.fail(l.UUID, fmt.Errorf("north or south alone: want both or neither"))
	}
	return l.UUID, c
}

func (b *builder) frame(l frameLine) (uuid.UUID, catalog.Frame) {
	return l.UUID, catalog.Frame{ID: own[catalog.FrameID](b, l.head), Record: kept(l.head),
		Sitting: other[catalog.SittingID](b, l.head, "sitting", l.Sitting), Path: l.Path, SHA256: l.SHA256,
		Channel: l.Channel, Role: l.Role, Taken: time.Time(l.Taken), Moment: l.Moment, ExposureS: l.ExposureS,
		SigmaS: l.SigmaS, TimeSource: l.TimeSource, Zone: l.Zone, WidthPx: l.WidthPx, HeightPx: l.HeightPx,
		Reference: l.Reference, Note: l.Note}
}

func (b *builder) disc(l discLine) (uuid.UUID, catalog.Disc) {
	from, err := catalog.ParseLayerSource(l.LayerFrom)
	b.fail(l.UUID, err)
	method, err := catalog.ParseDiscMethod(l.Method)
	b.fail(l.UUID, err)
	return l.UUID, catalog.Disc{ID: own[catalog.DiscID](b, l.head), Record: kept(l.head),
		Frame: other[catalog.FrameID](b, l.head, "frame", l.Frame),
		Limb: coords.Limb{Centre: coords.Pixel{X: l.X, Y: l.Y}, RadiusPx: l.RadiusPx, Flattening: l.Flattening,
			ShortAxis: coords.Angle(l.ShortAxis), Cov: coords.LimbCovariance(l.Cov)},
		Layer: coords.Layer(l.Layer), LayerFrom: from, Method: method, RMSPx: l.RMSPx, WidthPx: l.WidthPx,
		ArcDeg: l.ArcDeg, Points: l.Points, Rejected: l.Rejected, Accepted: l.Accepted, Note: l.Note}
}

func (b *builder) north(l northLine) (uuid.UUID, catalog.North) {
	toward, err := catalog.ParseToward(l.Toward)
	b.fail(l.UUID, err)
	return l.UUID, catalog.North{ID: own[catalog.NorthID](b, l.head), Record: kept(l.head),
		Frame: other[catalog.FrameID](b, l.head, "frame", l.Frame), Angle: coords.Angle(l.Angle), Toward: toward,
		Mirrored: l.Mirrored, Sigma: coords.Angle(l.Sigma), Method: l.Method, Parity: l.Parity,
		From: other[catalog.FrameID](b, l.head, "frame", l.From), Note: l.Note}
}

func (b *builder) mark(l markLine) (uuid.UUID, catalog.Mark) {
	m := catalog.Mark{ID: own[catalog.MarkID](b, l.head), Record: kept(l.head),
		Frame: other[catalog.FrameID](b, l.head, "frame", l.Frame), Kind: l.Kind, Height: layer(l.Height),
		Spots: l.Spots, Label: l.Label, Aliases: l.Aliases, Note: l.Note,
		Observer: other[catalog.ObserverID](b, l.head, "observer", l.Observer), MarkedAt: time.Time(l.MarkedAt),
		SameAs: other[catalog.MarkID](b, l.head, "mark", l.SameAs)}
	var err error
	m.Extent, err = catalog.ParseExtent(l.Extent)
	b.fail(l.UUID, err)
	g := &m.Geometry
	g.Shape, err = catalog.ParseShape(l.Shape)
	b.fail(l.UUID, err)
	g.SigmaClickPx, g.SigmaR = l.SigmaClickPx, l.SigmaR
	g.SigmaPA, g.SigmaPlace = coords.Angle(l.SigmaPA), coords.Angle(l.SigmaPlace)
	if l.PolarLimb != nil {
		g.PolarLimb = coords.Layer(*l.PolarLimb)
	}
	b.fail(l.UUID, g.SetWritten(l.Form, l.Vertices))
	return l.UUID, m
}

func (b *builder) verdict(h head, state, by string) (catalog.Standing, catalog.Voice) {
	s, err := catalog.ParseStanding(state)
	b.fail(h.UUID, err)
	v, err := catalog.ParseVoice(by)
	b.fail(h.UUID, err)
	return s, v
}

func (b *builder) join(l joinLine) (uuid.UUID, catalog.Join) {
	state, by := b.verdict(l.head, l.State, l.By)
	return l.UUID, catalog.Join{ID: own[catalog.JoinID](b, l.head), Record: kept(l.head),
		Mark: other[catalog.MarkID](b, l.head, "mark", l.Mark), Passage: other[catalog.PassageID](b, l.head, "passage", l.Passage),
		State: state, By: by, Odds: l.Odds, Note: l.Note}
}

func (b *builder) link(l linkLine) (uuid.UUID, catalog.Link) {
	state, by := b.verdict(l.head, l.State, l.By)
	relation, err := catalog.ParseRelation(l.Relation)
	b.fail(l.UUID, err)
	return l.UUID, catalog.Link{ID: own[catalog.LinkID](b, l.head), Record: kept(l.head),
		From: other[catalog.PassageID](b, l.head, "passage", l.From), To: other[catalog.PassageID](b, l.head, "passage", l.To),
		Relation: relation, State: state, By: by, Odds: l.Odds, Note: l.Note}
}
