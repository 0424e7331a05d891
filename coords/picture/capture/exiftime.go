package capture

import (
	"fmt"
	"strings"

	"limbwatch/coords/picture/exif"
)

// FromEXIF reads DateTimeOriginal with its decimals and its offset (EXIF 2.32,
// section 4.6.5). Without OffsetTimeOriginal the time has no zone. The moment is
// unknown, but an exposure of a single photograph is short.
func FromEXIF(tags exif.Tags) Found {
	text := tags.Original
	if text == "" || strings.Trim(text, " :0") == "" { // a camera whose clock was never set
		return Found{}
	}
	s := Stamp{Source: EXIF, Written: text, ExposureS: tags.ExposureS}
	refuse := func(why string) Found {
		return Found{Refused: []error{fmt.Errorf("EXIF time %q: %s", text, why)}}
	}
	days, rest := readDate(text)
	if len(days) != 1 {
		return refuse("no date")
	}
	clock := strings.TrimLeft(rest, " T")
	if sub := strings.TrimSpace(tags.SubSec); digits(sub) >= 0 && !strings.ContainsAny(clock, ".,") {
		clock += "." + sub
		s.Written += "." + sub
	}
	t, tail, ok := readTime(clock, false)
	if !ok {
		return refuse("no time of day")
	}
	s.Clock, s.ResolutionS = days[0].Add(t.sinceMidnight), t.resolutionS
	if zone, _, ok := readZone(tail, inValue); ok { // not the standard's way, but some write it
		s.Zone = zone
	}
	if offset := strings.TrimSpace(tags.Offset); offset != "" {
		if _, err := ParseZone(offset); err != nil {
			return Found{Stamps: []Stamp{s}, Notes: []string{fmt.Sprintf("EXIF offset %q is not read", offset)}}
		}
		s.Zone = offset
		s.Written += " " + offset
	}
	return Found{Stamps: []Stamp{s}}
}
