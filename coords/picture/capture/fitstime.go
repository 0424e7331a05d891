package capture

import (
	"fmt"
	"math"
	"strings"
	"time"

	"limbwatch/coords/picture/fits"
	"limbwatch/coords/timescale"
)

// FromFITS reads the times of a FITS header (FITS standard 4.0, section 9; Rots et
// al. 2015, A&A 574, A36).
//
// In this order: DATE-AVG, the middle; DATE-BEG with DATE-END, which give middle
// and length; DATE-BEG; DATE-OBS (also DATE_OBS), the start unless its comment
// says otherwise, with TIME-OBS where DATE-OBS has only the day; the MJD forms of
// the same. The exposure is XPOSURE, else EXPTIME or EXPOSURE, in seconds.
//
// TIMESYS UTC, UT1, TAI, TT, TDB and GPS are brought to UTC (UT1 and TDB within
// a second, before 1972 no scale but UTC); others are refused.
func FromFITS(h fits.Header) Found {
	r := fitsTimes{header: h}
	r.system, _ = h.Text("TIMESYS")
	for _, key := range []string{"XPOSURE", "EXPTIME", "EXPOSURE"} {
		if v, ok := h.Float(key); ok && v > 0 && v < 86400 {
			r.exposureS = v
			break
		}
	}
	stamp, ok := r.best()
	if !ok {
		return Found{Refused: r.refused}
	}
	clock, err := toUTC(stamp.Clock, r.system)
	if err != nil {
		return Found{Refused: append(r.refused, fmt.Errorf("%s: %w", stamp.Written, err))}
	}
	stamp.Clock, stamp.Source = clock, FITSHeader
	if stamp.Zone == "" {
		stamp.Zone = "UTC"
	}
	return Found{Stamps: []Stamp{stamp}, Refused: r.refused}
}

type fitsTimes struct {
	header    fits.Header
	system    string
	exposureS float64
	refused   []error
}

func (r *fitsTimes) best() (Stamp, bool) {
	if s, ok := r.read("AVG"); ok {
		s.Moment, s.ExposureS = Middle, r.exposureS
		return s, true
	}
	begin, haveBegin := r.read("BEG")
	end, haveEnd := r.read("END")
	if !haveBegin {
		if s, ok := r.read("OBS"); ok {
			begin, haveBegin = s, true
			if begin.Moment = momentOf(r.header.Comment("DATE-OBS") + " " + r.header.Comment("TIME-OBS")); begin.Moment == Unknown {
				begin.Moment = Start
			}
		}
	} else {
		begin.Moment = Start
	}
	switch {
	case haveBegin && haveEnd && begin.Moment == Start && end.Clock.After(begin.Clock):
		length := end.Clock.Sub(begin.Clock)
		if length > 24*time.Hour {
			r.refused = append(r.refused, fmt.Errorf("%s lies %s after %s", end.Written, spanText(length), begin.Written))
			break
		}
		begin.Clock, begin.Moment = begin.Clock.Add(length/2), Middle
		begin.ExposureS = length.Seconds()
		begin.Written += ", " + end.Written
		return begin, true
	case !haveBegin && haveEnd:
		end.Moment, end.ExposureS = End, r.exposureS
		return end, true
	}
	begin.ExposureS = r.exposureS
	return begin, haveBegin
}

// read finds the time of one suffix: DATE-xxx, its spelling with an underscore,
// then MJD-xxx.
func (r *fitsTimes) read(suffix string) (Stamp, bool) {
	for _, key := range []string{"DATE-" + suffix, "DATE_" + suffix} {
		text, ok := r.header.Text(key)
		if !ok {
			continue
		}
		s, err := r.dateKeyword(key, text, suffix)
		if err == nil {
			return s, true
		}
		r.refused = append(r.refused, err)
	}
	if mjd, ok := r.header.Float("MJD-" + suffix); ok && mjd > 15020 && mjd < 88069 { // 1900 to 2100
		// A float64 holds MJD to a microsecond.
		clock := time.Date(1858, 11, 17, 0, 0, 0, 0, time.UTC).AddDate(0, 0, int(mjd))
		clock = clock.Add(time.Duration(math.Round((mjd-math.Trunc(mjd))*86400e3)) * time.Millisecond)
		return Stamp{Clock: clock, ResolutionS: 0.001, Written: fmt.Sprintf("MJD-%s = %v", suffix, mjd)}, true
	}
	return Stamp{}, false
}

func (r *fitsTimes) dateKeyword(key, text, suffix string) (Stamp, error) {
	written := fmt.Sprintf("%s = '%s'", key, text)
	date, rest, err := fitsDate(text)
	if err != nil {
		return Stamp{}, fmt.Errorf("%s: %w", written, err)
	}
	rest = strings.TrimLeft(strings.TrimPrefix(strings.TrimLeft(rest, " "), "T"), " ")
	if rest == "" {
		key, ofDay := r.timeKeyword(suffix)
		if ofDay == "" {
			return Stamp{}, fmt.Errorf("%s: a day without a time", written)
		}
		rest = ofDay
		written += fmt.Sprintf(", %s = '%s'", key, ofDay)
	}
	ofDay, behind, ok := readTime(rest, true)
	if !ok {
		return Stamp{}, fmt.Errorf("%s: no time of day", written)
	}
	t, err := readTail(behind)
	if err != nil {
		return Stamp{}, fmt.Errorf("%s: %w", written, err)
	}
	s := Stamp{Zone: t.zone, Source: FITSHeader, Written: written}
	s.at(date, ofDay)
	return s, r.bringToUTC(&s, t.local || saysLocal(r.header.Comment(key)))
}

// saysLocal says whether a comment speaks of local time, and not of UTC beside it.
func saysLocal(comment string) bool {
	said := words(comment)
	return hasWord(said, "local", "localtime") && !hasWord(said, "utc", "ut", "gmt", "universal")
}

// bringToUTC brings a time with a zone of its own to UTC; what is in an atomic scale
// stays in it. Without a zone it is in UTC by standard.
func (r *fitsTimes) bringToUTC(s *Stamp, local bool) error {
	atomic := !isUniversal(r.system)
	switch {
	case local:
		return fmt.Errorf("%s: says that it is local time, and not of which zone", s.Written)
	case atomic && s.Zone != "":
		return fmt.Errorf("%s: has a zone, and TIMESYS says %s", s.Written, r.system)
	case atomic && len(s.leaps) > 0:
		return fmt.Errorf("%s: %s has no leap seconds, and so no second 60", s.Written, r.system)
	case s.Zone == "":
		s.Zone = "UTC"
	}
	zone, err := ParseZone(s.Zone)
	if err != nil {
		return fmt.Errorf("%s: %w", s.Written, err)
	}
	if s.Clock, err = s.in(zone); err != nil {
		return err
	}
	s.Zone, s.leaps = "UTC", nil
	return nil
}

// timeKeyword finds the time of day that goes with a bare day. The keywords were
// never standard; these are seen, and all mean UT.
func (r *fitsTimes) timeKeyword(suffix string) (key, value string) {
	keys := []string{"TIME-" + suffix, "TIME_" + suffix}
	if suffix == "OBS" {
		keys = append(keys, "UTC-OBS", "UT-OBS", "UTC", "UT", "UTSTART")
	}
	for _, key := range keys {
		if value, ok := r.header.Text(key); ok {
			return key, value
		}
	}
	return "", ""
}

// fitsDate reads "2002-04-30…" and the form before the year 2000, "30/04/99",
// whose century is 19.. by standard.
func fitsDate(text string) (date time.Time, rest string, err error) {
	if len(text) >= 8 && text[2] == '/' && text[5] == '/' && (len(text) == 8 || text[8] == 'T' || text[8] == ' ') {
		day, month, year := digits(text[:2]), digits(text[3:5]), digits(text[6:8])
		if date, ok := civil(1900+year, month, day); ok {
			return date, text[8:], nil
		}
		return time.Time{}, "", fmt.Errorf("no such day")
	}
	if len(text) < 10 || text[4] != text[7] || text[4] != '-' && text[4] != '/' {
		return time.Time{}, "", fmt.Errorf("no date")
	}
	date, ok := civil(digits(text[:4]), digits(text[5:7]), digits(text[8:10]))
	if !ok {
		return time.Time{}, "", fmt.Errorf("no such day")
	}
	return date, text[10:], nil
}

// scaleOf is the time scale that TIMESYS names: "UTC(NIST)" names a realisation of one.
func scaleOf(system string) string {
	name, realisation, of := strings.Cut(strings.ToUpper(strings.TrimSpace(system)), "(")
	if of && !strings.HasSuffix(realisation, ")") {
		return system
	}
	return strings.TrimSpace(name)
}

// isUniversal says whether a time scale follows the turning of the Earth.
func isUniversal(system string) bool {
	switch scaleOf(system) {
	case "", "UTC", "UT", "UT1", "GMT", "Z":
		return true
	}
	return false
}

// toUTC brings a time of a FITS time scale to UTC.
func toUTC(clock time.Time, system string) (time.Time, error) {
	if isUniversal(system) {
		return clock, nil // UT1 stays within 0.9 s of UTC
	}
	var aheadOfTAI time.Duration
	switch scaleOf(system) {
	case "TAI", "IAT":
	case "TT", "TDT", "ET", "TDB":
		aheadOfTAI = 32184 * time.Millisecond
	case "GPS":
		aheadOfTAI = -19 * time.Second
	default:
		return time.Time{}, fmt.Errorf("TIMESYS %q is not read; want UTC, UT1, TAI, TT, TDB or GPS", system)
	}
	tai := clock.Add(-aheadOfTAI)
	utc, ok := timescale.UTCOfTAI(tai)
	if !ok {
		return time.Time{}, fmt.Errorf("TIMESYS %q before 1972 is not read", system)
	}
	return utc, nil
}
