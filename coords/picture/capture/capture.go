package capture

import (
	"fmt"
	"math"
	"time"
)

// Moment says which moment of an exposure or recording a time belongs to.
type Moment int

// The moments. The zero value is Unknown.
const (
	Unknown Moment = iota
	Start
	Middle
	End
)

// String gives "unknown", "start", "middle" or "end".
func (m Moment) String() string {
	return [...]string{"unknown", "start", "middle", "end"}[max(0, min(3, int(m)))]
}

// Source is where a time was found.
type Source int

// The sources, in order of their priority. The zero value is no source.
const (
	NoSource Source = iota
	FITSHeader
	EXIF
	TextFile
	FileName
)

// String names the source for people.
func (s Source) String() string {
	return [...]string{"no source", "FITS header", "EXIF", "text file", "file name"}[max(0, min(4, int(s)))]
}

// Stamp is a time as it is written somewhere.
//
//	Clock        what a clock showed: year to nanosecond, kept in a time.Time in
//	             UTC whatever the zone
//	Zone         the zone that came with it: "UTC", "+02:00", an IANA name, or
//	             empty for none
//	Written      the text it was read from, for messages
//	ExposureS    length of the exposure or recording in seconds, 0 unknown
//	Local        the text says that the time is that of the place, whose zone it
//	             does not name
//	ResolutionS  smallest step that the text can express, seconds
type Stamp struct {
	Clock       time.Time
	Zone        string
	Source      Source
	Moment      Moment
	Written     string
	ExposureS   float64
	ResolutionS float64
	Local       bool

	leaps []time.Time // readings, like Clock, of seconds that were written as 60
}

// at sets the clock of a stamp to a time of a day.
func (s *Stamp) at(day time.Time, t timeOfDay) {
	s.Clock, s.ResolutionS = day.Add(t.sinceMidnight), t.resolutionS
	if t.leap {
		s.leaps = append(s.leaps, s.Clock)
	}
}

// Found collects what all sources of a picture say. Refused holds times that are
// there but can't be used, with the reason; Notes what a reader should know of
// those that can.
type Found struct {
	Stamps  []Stamp
	Refused []error
	Notes   []string
}

// add takes over what another source found.
func (f *Found) add(other Found) {
	f.Stamps = append(f.Stamps, other.Stamps...)
	f.Refused = append(f.Refused, other.Refused...)
	f.Notes = append(f.Notes, other.Notes...)
}

// Join puts the findings of several sources together.
func Join(sources ...Found) Found {
	var all Found
	for _, s := range sources {
		all.add(s)
	}
	return all
}

// Capture is when a picture was taken.
//
//	UTC        the moment that Moment names
//	Zone       how UTC came about: "UTC", "+02:00", "Europe/Prague (+02:00)"
//	Written    the text it was read from
//	ExposureS  length of the exposure or recording in seconds, 0 unknown
//	SigmaS     standard error, seconds, of Mid as the middle of the exposure
//	Warnings   disagreements between sources, in words
type Capture struct {
	UTC       time.Time
	Moment    Moment
	Source    Source
	Zone      string
	Written   string
	ExposureS float64
	SigmaS    float64
	Warnings  []string
}

// Mid is the best estimate of the middle of the exposure: UTC shifted by half the
// exposure when UTC is its start or end and the length is known, else UTC itself.
func (c Capture) Mid() time.Time {
	half := time.Duration(c.ExposureS / 2 * float64(time.Second))
	switch c.Moment {
	case Start:
		return c.UTC.Add(half)
	case End:
		return c.UTC.Add(-half)
	}
	return c.UTC
}

// unknownLengthS is the standard error of the middle where neither moment nor
// length are known: a recording that is stacked lasts a minute or two
// (common practice, no source).
const unknownLengthS = 60

// sigma of the middle: the step of the text, and what isn't known of the moment.
func (s Stamp) sigma() float64 {
	step := s.ResolutionS / math.Sqrt(12) // a uniform error over the step
	var moment float64
	switch {
	case s.Moment == Middle, s.Source == EXIF && s.ExposureS == 0:
		// EXIF belongs to a single photograph, a fraction of a second long.
	case s.ExposureS == 0:
		moment = unknownLengthS
	case s.Moment == Unknown: // start, middle or end: uniform over the exposure and more
		moment = s.ExposureS / math.Sqrt(3)
	}
	return math.Hypot(step, moment)
}

// clockText writes a clock's reading for messages, no finer than it was read.
func (s Stamp) clockText() string {
	layout := "2006-01-02 15:04:05"
	if s.ResolutionS >= 60 {
		layout = "2006-01-02 15:04"
	} else if s.ResolutionS < 1 {
		layout = "2006-01-02 15:04:05.999"
	}
	return s.Clock.Format(layout)
}

// quoted is the clock's reading with where it was found, if anywhere but in what
// somebody typed.
func (s Stamp) quoted() string {
	if s.Source == NoSource {
		return fmt.Sprintf("%q", s.Written)
	}
	return fmt.Sprintf("%q (%s)", s.clockText(), s.Source)
}

func (s Stamp) String() string {
	return fmt.Sprintf("%s (%s, %s)", s.clockText(), s.Source, s.Written)
}
