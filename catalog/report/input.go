package report

import (
	"fmt"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/chart"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/picture"
)

// Period is the stretch of time a report is of, From ≤ t < To.
//
//	Rotation  Carrington's number, when it is of one; else 0
type Period struct {
	From, To time.Time
	Rotation int
}

// Month is the calendar month of UT in which t lies.
func Month(t time.Time) Period {
	from := time.Date(t.UTC().Year(), t.UTC().Month(), 1, 0, 0, 0, 0, time.UTC)
	return Period{From: from, To: from.AddDate(0, 1, 0)}
}

// Rotation is a Carrington rotation. Its ends are put to whole UT days, those on
// which it begins and ends included.
func Rotation(number int) Period {
	last := ephemeris.RotationStart(number + 1).Add(-time.Millisecond)
	return Period{From: catalog.DayOf(ephemeris.RotationStart(number)), To: catalog.DayOf(last).AddDate(0, 0, 1), Rotation: number}
}

// Days is how many UT days the period has.
func (p Period) Days() int { return int(p.To.Sub(p.From).Hours()/24 + 0.5) }

// String names the period: March 2026; Carrington rotation 2309; 2 to 19 March 2026.
func (p Period) String() string {
	last := p.To.AddDate(0, 0, -1)
	switch {
	case p.Rotation > 0:
		return fmt.Sprintf("Carrington rotation %d", p.Rotation)
	case p == Month(p.From):
		return p.From.Format("January 2006")
	case p.From.Year() != last.Year():
		return p.From.Format("2 January 2006") + " to " + last.Format("2 January 2006")
	case p.From.Month() != last.Month():
		return p.From.Format("2 January") + " to " + last.Format("2 January 2006")
	case p.From.Equal(last):
		return last.Format("2 January 2006")
	}
	return p.From.Format("2") + " to " + last.Format("2 January 2006")
}

// Input is all that a report is made of.
//
//	Words       the observer's own, put in front; paragraphs apart by empty lines
//	Sittings    of the period
//	Entries     the marks of the period, references left out
//	Surroundings  marks of three weeks before and after, for the strip map
//	Counts      on paper, of the sittings
//	Passages, Links  all of the catalogue
//	Joins       of the marks, whatever their standing
//	Matches     which filament a prominence was found to be (see Match)
//	Crossings   by mark of a filament, when what it is of crossed the disc
//	Discs, Norths  of the period's frames
//	Warnings    of the same frames, those that nobody has settled
//	Looks       at the disc, from three weeks before the period to three after, without
//	            pictures; FrameWidthPx is 0 for a look without one
//	Picture     gives a frame's picture, best a reduced one; nil, and a nil picture:
//	            there is none. It is asked for several at a time
//	K           the observer's factor of the relative number; 0: 1
//	Cautions    for eyes and equipment
//	Program     name and version; Made is when
type Input struct {
	Period       Period
	Words        string
	Sittings     []Sitting
	Entries      []catalog.Entry
	Surroundings []catalog.Entry
	Counts       []catalog.Count
	Passages     []catalog.Passage
	Joins        []catalog.Join
	Links        []catalog.Link
	Matches      []Match
	Crossings    map[catalog.MarkID]Crossing
	Discs        []catalog.Disc
	Norths       []catalog.North
	Warnings     []catalog.Warning
	Looks        []chart.Look
	Picture      func(catalog.FrameID) (*picture.Picture, error)
	K            float64
	Cautions     []string
	Program      string
	Made         time.Time
}

// Sitting is a sitting with what it names. What is not known is nil.
//
//	Frames  its own, without references
type Sitting struct {
	catalog.Sitting
	Observer   *catalog.Observer
	Site       *catalog.Site
	Instrument *catalog.Instrument
	Setup      *catalog.Setup
	Frames     []catalog.Frame
}

// Crossing is when a feature came round the east limb, passed the meridian and went
// round the west limb, by all that was seen of it; a moment that is not known is zero.
type Crossing struct{ East, Meridian, West chart.Moment }

// Match says that a prominence at the edge is the end, or the beginning, of a
// filament's passage.
//
//	Mark     of the prominence
//	Passage  of the filament
//	Odds     that it is, 0 to 1
//	By       whose word it is
type Match struct {
	Mark    catalog.MarkID
	Passage catalog.PassageID
	Odds    float64
	By      catalog.Voice
}
