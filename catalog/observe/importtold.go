package observe

import (
	"fmt"
	"math"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords/sample"
)

// ToldRow is a row that is kept although something about it is odd.
type ToldRow struct {
	Line int
	What string
}

func (r ToldRow) String() string { return fmt.Sprintf("line %d: %s", r.Line, r.What) }

// contradiction is by how much a longitude and a distance from the meridian miss each
// other: L0 + cmd − lon.
type contradiction struct{ lonDeg, cmdDeg, l0Deg, missDeg float64 }

// roomOfL0Deg is by how much L0 may differ beside the printed digits: tables round the
// time to a minute or a thousandth of a day. Those of Greenwich agree with L0 of today to
// 0.05° from 1917 on, and to 0.2° before, when other elements were in use.
func roomOfL0Deg(utc time.Time) float64 {
	if utc.Year() < 1917 {
		return 0.2
	}
	return 0.05
}

// contradictionOf compares what stands in one row; nil when it agrees within the room that
// the digits as printed leave.
func contradictionOf(l0Deg, lonDeg, cmdDeg, roomDeg float64) *contradiction {
	miss := degrees(l0Deg + cmdDeg - lonDeg).Wrap180().Degrees()
	if math.Abs(miss) <= roomDeg+1e-9 {
		return nil
	}
	return &contradiction{lonDeg, cmdDeg, l0Deg, miss}
}

func (c contradiction) String() string {
	return fmt.Sprintf("lon_deg %g and cmd_deg %g contradict each other by %.2f°, for L0 is %.2f° at that time: lon_deg is kept",
		c.lonDeg, c.cmdDeg, math.Abs(c.missDeg), c.l0Deg)
}

// commonMiss says what would explain most of the contradictions of a file; empty when
// they have nothing in common, or are too few to say. L0 falls by 13.2° a day, so a
// wrong time of day makes all rows miss alike.
func commonMiss(missesDeg []float64, both int) string {
	const enough, alikeDeg, l0DegPerHour = 5, 1.0, 13.2 / 24
	if len(missesDeg) < enough || 2*len(missesDeg) < both {
		return ""
	}
	middle := sample.Median(missesDeg)
	alike := 0
	for _, miss := range missesDeg {
		if math.Abs(miss-middle) <= alikeDeg {
			alike++
		}
	}
	if 10*alike < 9*len(missesDeg) {
		return ""
	}
	later, word := middle/l0DegPerHour, "later"
	if later < 0 {
		later, word = -later, "earlier"
	}
	return fmt.Sprintf("of %d rows with lon_deg and cmd_deg %d contradict themselves, nearly all by %+.1f°: they would agree were their times %.0f hours %s",
		both, len(missesDeg), middle, later, word)
}

// skyContradiction is by how much a place and the position angle with the distance from
// the centre that stand beside it miss each other, in radii of the disc.
type skyContradiction struct{ paDeg, r, placePADeg, placeR, miss float64 }

// roomOnSky is by how much they may: the limb of a picture may be that of the
// chromosphere, and tables round the time.
const roomOnSky = 0.02

func (c skyContradiction) String() string {
	return fmt.Sprintf("pa_deg %g and r %g contradict lat_deg and its longitude by %.2f radii, for these lie at pa_deg %.1f and r %.3f: latitude and longitude are kept",
		c.paDeg, c.r, c.miss, c.placePADeg, c.placeR)
}

// besidePlace compares an angle and a distance on the disc that stand beside a place; nil
// when they are not there, belong to the top of something at the limb, or agree.
func (p *positionReader) besidePlace(record []string, placed catalog.Position) (*skyContradiction, error) {
	if p.field(record, latColumn) == "" || placed.Polar == nil {
		return nil, nil
	}
	pa, hasPA, err := p.number(record, paColumn)
	if err != nil {
		return nil, err
	}
	r, hasR, err := p.number(record, rColumn)
	if err != nil || !hasPA || !hasR || r >= insideR {
		return nil, err
	}
	turn := (degrees(pa) - placed.Polar.PA).Wrap180()
	miss := math.Sqrt(max(0, r*r+placed.Polar.R*placed.Polar.R-2*r*placed.Polar.R*turn.Cos()))
	if miss <= roomOnSky+p.halfDigit(record, rColumn)+r*float64(degrees(p.halfDigit(record, paColumn))) {
		return nil, nil
	}
	return &skyContradiction{pa, r, placed.Polar.PA.Degrees(), placed.Polar.R, miss}, nil
}

// tell notes what is odd about a row that is kept.
func (im *importer) tell(m importedMark) {
	var odd []string
	note := func(what fmt.Stringer) { odd = append(odd, what.String()) }
	if m.both {
		im.both++
	}
	if m.off != nil {
		im.misses = append(im.misses, m.off.missDeg)
		note(m.off)
	}
	if m.offSky != nil {
		note(m.offSky)
	}
	if twin := im.firsts.twin(m); twin > 0 {
		note(twin)
	}
	if beyond := Hidden(m.mark, m.position); beyond > 0 {
		note(beyond)
	}
	if len(odd) == 0 {
		return
	}
	im.done.ToldRows++
	if len(im.done.Told) < MaxBadRows {
		im.done.Told = append(im.done.Told, ToldRow{m.line, strings.Join(odd, "; ")})
	}
}
