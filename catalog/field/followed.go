package field

import (
	"limbwatch/catalog"
	"limbwatch/coords"
)

// Passage describes one feature's crossing of the visible disc.
var Passage = Noun[catalog.Passage, catalog.PassageID]{Name: "passage", Said: "passage", Letter: "P",
	Head: func(t *catalog.Passage) (*catalog.PassageID, *catalog.Record) { return &t.ID, &t.Record },
	Fields: concat[catalog.Passage](
		words("name", "", func(p *catalog.Passage) *string { return &p.Name }),
		one("kind", "what it mostly is", func(p *catalog.Passage) *catalog.Kind { return &p.Kind }, catalog.ParseKind),
		heightOf("height", "height above the photosphere, as following found it", func(p *catalog.Passage) **coords.Layer { return &p.Height }, inMm("height_mm", "height_sigma_mm", "height")),
		words("note", "", func(p *catalog.Passage) *string { return &p.Note }),
	)}

// Join describes that a mark belongs to a passage, or may, or does not.
var Join = Noun[catalog.Join, catalog.JoinID]{Name: "join", Said: "join", Letter: "J",
	Head: func(t *catalog.Join) (*catalog.JoinID, *catalog.Record) { return &t.ID, &t.Record },
	Fields: []Field[catalog.Join]{
		ref("mark", "mark", "", func(j *catalog.Join) *catalog.MarkID { return &j.Mark }),
		ref("passage", "passage", "", func(j *catalog.Join) *catalog.PassageID { return &j.Passage }),
		one("state", "made, proposed, refused", func(j *catalog.Join) *catalog.Standing { return &j.State }, catalog.ParseStanding),
		one("voice", "whose word it is: program, observer", func(j *catalog.Join) *catalog.Voice { return &j.By }, catalog.ParseVoice).once(Former{Name: "by"}),
		maybe("odds", "", "0 to 1", func(j *catalog.Join) **float64 { return &j.Odds }),
		words("note", "", func(j *catalog.Join) *string { return &j.Note }),
	}}

// Link describes that two passages belong together.
var Link = Noun[catalog.Link, catalog.LinkID]{Name: "link", Said: "link", Letter: "R",
	Head: func(t *catalog.Link) (*catalog.LinkID, *catalog.Record) { return &t.ID, &t.Record },
	Fields: []Field[catalog.Link]{
		ref("from_passage", "passage", "the earlier", func(l *catalog.Link) *catalog.PassageID { return &l.From }).once(Former{Name: "from"}),
		ref("to_passage", "passage", "the later", func(l *catalog.Link) *catalog.PassageID { return &l.To }).once(Former{Name: "to"}),
		one("relation", "return, split, merger", func(l *catalog.Link) *catalog.Relation { return &l.Relation }, catalog.ParseRelation),
		one("state", "made, proposed, refused", func(l *catalog.Link) *catalog.Standing { return &l.State }, catalog.ParseStanding),
		one("voice", "whose word it is: program, observer", func(l *catalog.Link) *catalog.Voice { return &l.By }, catalog.ParseVoice).once(Former{Name: "by"}),
		maybe("odds", "", "0 to 1", func(l *catalog.Link) **float64 { return &l.Odds }),
		words("note", "", func(l *catalog.Link) *string { return &l.Note }),
	}}
