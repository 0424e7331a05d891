package capture

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// Options says what the caller knows about clocks.
//
//	Zone       of times that came without one: the site's, or the user's word; nil
//	           for none
//	NameIsUTC  times in file names are UTC even where they don't say so
type Options struct {
	Zone      *time.Location
	NameIsUTC bool
}

// zoneOf is the zone of a stamp, nil when nobody knows it.
func (o Options) zoneOf(s Stamp) (*time.Location, error) {
	switch {
	case s.Zone != "":
		return ParseZone(s.Zone)
	case s.Source == FileName && o.NameIsUTC && !s.Local:
		return time.UTC, nil
	}
	return o.Zone, nil
}

// Resolve makes one capture time out of what was found, by the package's
// priority, and warns where other sources disagree with it.
//
// Errors: *NoTimeError when there is nothing; *ZoneNeededError, *TwiceError or
// *NeverError when the best time there is has no usable zone; *NoLeapSecondError when
// it is a second that never was; *AmbiguousDateError
// when the only date has two readings.
func (f Found) Resolve(opts Options) (Capture, error) {
	stamps := slices.Clone(f.Stamps)
	slices.SortStableFunc(stamps, func(a, b Stamp) int {
		if known := b2i(a.Zone == "") - b2i(b.Zone == ""); known != 0 {
			return known
		}
		return int(a.Source) - int(b.Source)
	})
	if len(stamps) == 0 {
		return Capture{}, f.none()
	}
	best := stamps[0]
	zone, err := opts.zoneOf(best)
	if err != nil {
		return Capture{}, fmt.Errorf("%s: %w", best, err)
	}
	if zone == nil {
		return Capture{}, &ZoneNeededError{Stamp: best}
	}
	utc, err := best.in(zone)
	if err != nil {
		return Capture{}, err
	}
	c := Capture{
		UTC: utc, Moment: best.Moment, Source: best.Source, Zone: zoneText(zone, utc),
		Written: best.Written, ExposureS: best.ExposureS, SigmaS: best.sigma(),
	}
	for _, other := range stamps[1:] {
		if warning := c.conflict(other, opts); warning != "" {
			c.Warnings = append(c.Warnings, warning)
		}
	}
	for _, refused := range f.Refused {
		if _, dull := refused.(*dayOnlyError); !dull {
			c.Warnings = append(c.Warnings, "not used: "+refused.Error())
		}
	}
	c.Warnings = append(c.Warnings, f.Notes...)
	return c, nil
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// none is the error for no stamp at all: the one date that was refused, if it is
// alone, since its message says what to settle.
func (f Found) none() error {
	if len(f.Refused) == 1 {
		if ambiguous, ok := f.Refused[0].(*AmbiguousDateError); ok {
			return ambiguous
		}
	}
	e := &NoTimeError{}
	for _, r := range f.Refused {
		e.Notes = append(e.Notes, r.Error())
	}
	return e
}

// agreeWithin is how far two sources may stand apart before it is worth a word: a
// file is written some minutes after the start of its recording.
const agreeWithin = 5 * time.Minute

// conflict compares another stamp, and describes a disagreement. A stamp without
// a zone is compared as a bare clock only when the caller's zone can be used.
func (c Capture) conflict(other Stamp, opts Options) string {
	zone, err := opts.zoneOf(other)
	if err != nil {
		return fmt.Sprintf("%s: %v", other, err)
	}
	if zone == nil {
		return c.clockConflict(other)
	}
	t, err := other.in(zone)
	if err != nil {
		return "not used: " + err.Error()
	}
	off := t.Sub(c.Mid())
	if off.Abs() <= c.tolerance(other) {
		return ""
	}
	return fmt.Sprintf("%s says %s, which is %s %s", other, t.Format("2006-01-02T15:04:05Z"), spanText(off), apart(off))
}

func (c Capture) tolerance(other Stamp) time.Duration {
	seconds := max(c.ExposureS, other.ExposureS) + other.ResolutionS
	return agreeWithin + time.Duration(seconds*float64(time.Second))
}

// clockConflict compares a clock of unknown zone: it may stand off by a zone's
// offset, a multiple of a quarter of an hour up to 14 hours, and by no other span.
func (c Capture) clockConflict(other Stamp) string {
	off := other.Clock.Sub(c.Mid())
	quarter := 15 * time.Minute
	rest := (off - off.Round(quarter)).Abs()
	if off.Abs() <= 14*time.Hour+quarter && rest <= c.tolerance(other) {
		return ""
	}
	return fmt.Sprintf("%s stands %s %s, which no zone explains", other, spanText(off), apart(off))
}

// apart says in which direction, and whether the span looks like a zone mistaken.
func apart(off time.Duration) string {
	direction := "after the time used"
	if off < 0 {
		direction = "before the time used"
	}
	hours := off.Abs().Hours()
	if math.Abs(hours-math.Round(hours)) < 0.05 && hours > 0.5 && hours < 14.5 {
		direction += ", as a wrong zone would make it"
	}
	return direction
}

func spanText(span time.Duration) string {
	span = span.Abs().Round(time.Second)
	switch {
	case span >= 48*time.Hour:
		return fmt.Sprintf("%.1f days", span.Hours()/24)
	case span >= 2*time.Hour:
		return fmt.Sprintf("%.2f h", span.Hours())
	}
	return fmt.Sprintf("%.1f min", span.Minutes())
}
