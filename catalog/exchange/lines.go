package exchange

import (
	"github.com/google/uuid"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
)

// The lines of a file that are no things: its first and its last.

type recordLine struct {
	Noun    string `json:"noun"`
	Version int    `json:"version"`
	Program string `json:"program"`
	Written string `json:"written_utc"`
	Things  things `json:"things"`
}

// endLine ends a record: how many of each noun stand before it, and the seal of all
// lines before it.
type endLine struct {
	Noun   string    `json:"noun"`
	UUID   uuid.UUID `json:"uuid,omitzero"`
	Things things    `json:"things"`
	SHA256 string    `json:"sha256"`
}

// things counts by noun.
type things map[string]int

// valid is what every noun of the catalogue can say of itself.
type valid interface{ Validate() error }

// traveller is a noun whose things travel.
type traveller interface {
	name() string
	count(*Record) int
	identify(*Record, map[int64]uuid.UUID)
	write(*writer, *Record)
	begin() reading
	describe() string
}

// travelling binds a description to where a record has the things.
type travelling[T valid, ID ~int64] struct {
	field.Noun[T, ID]
	of func(*Record) *[]T
}

func (n travelling[T, ID]) name() string { return n.Name }

func (n travelling[T, ID]) count(r *Record) int { return len(*n.of(r)) }

// nouns are all that travel, what is named before what names it.
var nouns = []traveller{
	travelling[catalog.Observer, catalog.ObserverID]{field.Observer, func(r *Record) *[]catalog.Observer { return &r.Observers }},
	travelling[catalog.Site, catalog.SiteID]{field.Site, func(r *Record) *[]catalog.Site { return &r.Sites }},
	travelling[catalog.Instrument, catalog.InstrumentID]{field.Instrument, func(r *Record) *[]catalog.Instrument { return &r.Instruments }},
	travelling[catalog.Setup, catalog.SetupID]{field.Setup, func(r *Record) *[]catalog.Setup { return &r.Setups }},
	travelling[catalog.Sitting, catalog.SittingID]{field.Sitting, func(r *Record) *[]catalog.Sitting { return &r.Sittings }},
	travelling[catalog.Count, catalog.CountID]{field.Count, func(r *Record) *[]catalog.Count { return &r.Counts }},
	travelling[catalog.Frame, catalog.FrameID]{field.Frame, func(r *Record) *[]catalog.Frame { return &r.Frames }},
	travelling[catalog.Disc, catalog.DiscID]{field.Disc, func(r *Record) *[]catalog.Disc { return &r.Discs }},
	travelling[catalog.North, catalog.NorthID]{field.North, func(r *Record) *[]catalog.North { return &r.Norths }},
	travelling[catalog.Warning, catalog.WarningID]{field.Warning, func(r *Record) *[]catalog.Warning { return &r.Warnings }},
	travelling[catalog.Mark, catalog.MarkID]{field.Mark, func(r *Record) *[]catalog.Mark { return &r.Marks }},
	travelling[catalog.Passage, catalog.PassageID]{field.Passage, func(r *Record) *[]catalog.Passage { return &r.Passages }},
	travelling[catalog.Join, catalog.JoinID]{field.Join, func(r *Record) *[]catalog.Join { return &r.Joins }},
	travelling[catalog.Link, catalog.LinkID]{field.Link, func(r *Record) *[]catalog.Link { return &r.Links }},
}
