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
	t, behind, ok := readTime(strings.TrimLeft(rest, " T"), false)
	if !ok {
		return refuse("no time of day")
	}
	if sub := strings.TrimSpace(tags.SubSec); sub != "" && t.resolutionS == 1 {
		if !t.addDecimals(sub) {
			return refuse(fmt.Sprintf("decimals %q of its second are not read", sub))
		}
		s.Written += "." + sub
	}
	s.at(days[0], t)
	zone, err := readTail(behind) // not the standard's way, but some write it
	if err != nil {
		return refuse(err.Error())
	}
	s.Zone = zone.zone
	if offset := strings.TrimSpace(tags.Offset); strings.Trim(offset, " :") != "" { // blanks: not known (EXIF 2.32)
		switch _, err := ParseZone(offset); {
		case err != nil:
			return refuse(fmt.Sprintf("its offset is not understood: %v", err))
		case zone.zone != "" && !sameZone(zone.zone, offset, s.Clock):
			return refuse(fmt.Sprintf("its offset says %s and the time itself %s", offset, zone.zone))
		}
		s.Zone = offset
		s.Written += " " + offset
	}
	return Found{Stamps: []Stamp{s}}
}
