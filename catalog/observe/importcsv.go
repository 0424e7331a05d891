package observe

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/exchange"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// positionReader reads a CSV of positions. Its header names the columns, in any
// order:
//
//	kind       sunspot, plage, filament, prominence or other
//	utc        the instant, as 2026-03-14T09:12:05Z; Z may be left out
//	lat_deg    heliographic latitude, with either of
//	lon_deg    Carrington longitude, 0 to 360, which goes before
//	cmd_deg    central meridian distance, west positive
//	pa_deg     where there is no latitude: position angle, with either of
//	height_mm  height above the photosphere, which goes before, or
//	r          distance from the centre in radii of the photosphere
//	label, note, sigma_deg (of latitude and of longitude times its cosine) or
//	sigma_lat_deg and sigma_lon_deg, sigma_r or sigma_height_mm, sigma_pa_deg
//	           may be missing or empty
//
// So what "export marks" writes is read back as positions. Where columns are apart by
// semicolons a comma is the decimal sign too.
type positionReader struct {
	csv     *csv.Reader
	header  []string
	column  map[string]int
	ignored []string // columns that are not read
}

var positionFields = []string{"kind", "utc", "lat_deg", "lon_deg", "cmd_deg", "pa_deg", "r", "height_mm",
	"label", "note", "sigma_deg", "sigma_lat_deg", "sigma_lon_deg", "sigma_r", "sigma_height_mm", "sigma_pa_deg"}

func newPositionReader(r io.Reader) (*positionReader, error) {
	buffered := bufio.NewReaderSize(r, 1<<16)
	if mark, _ := buffered.Peek(3); string(mark) == "\uFEFF" { // spreadsheets write one
		if _, err := buffered.Discard(3); err != nil {
			return nil, err
		}
	}
	p := &positionReader{csv: csv.NewReader(buffered), column: map[string]int{}}
	if head, _ := buffered.Peek(buffered.Size() / 2); strings.Contains(firstLine(head), ";") && !strings.Contains(firstLine(head), ",") {
		p.csv.Comma = ';'
	}
	header, err := p.csv.Read()
	if err == io.EOF {
		return nil, errors.New("empty file, want a line that names the columns")
	}
	if err != nil {
		return nil, err
	}
	p.header = slices.Clone(header)
	p.csv.ReuseRecord = true
	for i, name := range header {
		name = strings.TrimSpace(name)
		if _, twice := p.column[name]; twice {
			return nil, fmt.Errorf("column %q is there twice", name)
		}
		p.column[name] = i
		if !slices.Contains(positionFields, name) {
			p.ignored = append(p.ignored, name)
		}
	}
	for _, needed := range []string{"kind", "utc"} {
		if _, ok := p.column[needed]; !ok {
			return nil, fmt.Errorf("no column %q; there are %s", needed, strings.Join(header, ", "))
		}
	}
	return p, nil
}

func firstLine(text []byte) string {
	line, _, _ := strings.Cut(string(text), "\n")
	return line
}

// importedMark is one row: a mark without its frame, and its instant.
type importedMark struct {
	utc  time.Time
	mark catalog.Mark
}

// BadRow is a row that cannot be kept, and why.
type BadRow struct {
	Line int
	Err  error
}

func (b *BadRow) Error() string { return fmt.Sprintf("line %d: %v", b.Line, b.Err) }

// next reads one row: a mark, or a *BadRow as its error; io.EOF at the end. The
// record is good until the next call.
func (p *positionReader) next() (importedMark, []string, error) {
	record, err := p.csv.Read()
	if broken, ok := errors.AsType[*csv.ParseError](err); ok {
		if errors.Is(err, csv.ErrFieldCount) {
			return importedMark{}, record, &BadRow{broken.Line, fmt.Errorf("%d columns, want %d", len(record), len(p.header))}
		}
		return importedMark{}, nil, &BadRow{broken.Line, broken.Err}
	}
	if err != nil {
		return importedMark{}, nil, err
	}
	m, err := p.parse(record)
	if err != nil {
		line, _ := p.csv.FieldPos(0)
		return m, record, &BadRow{line, err}
	}
	return m, record, nil
}

// field gives a column's text, empty when there is no such column.
func (p *positionReader) field(record []string, name string) string {
	i, ok := p.column[name]
	if !ok {
		return ""
	}
	return strings.TrimSpace(record[i])
}

// number reads a field; false when it is empty.
func (p *positionReader) number(record []string, name string) (float64, bool, error) {
	text := p.field(record, name)
	if text == "" {
		return 0, false, nil
	}
	if p.csv.Comma == ';' { // where the comma is the decimal sign
		text = strings.Replace(text, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		if strings.Contains(text, ",") {
			return 0, false, fmt.Errorf("%s %q: want a decimal point", name, text)
		}
		return 0, false, fmt.Errorf("%s %q is no number", name, text)
	}
	return v, true, nil
}

// parse turns a record into a mark.
func (p *positionReader) parse(record []string) (m importedMark, err error) {
	if m.mark.Kind, err = catalog.ParseKind(p.field(record, "kind")); err != nil {
		return m, err
	}
	if m.utc, err = ParseUTC(p.field(record, "utc")); err != nil {
		return m, err
	}
	if err := ephemeris.Check(m.utc); err != nil {
		return m, err
	}
	m.mark.Label, m.mark.Note = exchange.Typed(p.field(record, "label")), exchange.Typed(p.field(record, "note"))
	m.mark.Geometry.Shape = catalog.Point
	if p.field(record, "lat_deg") != "" {
		err = p.place(record, &m.mark.Geometry)
	} else {
		err = p.polar(record, &m.mark.Geometry, m.utc)
	}
	if err != nil {
		return m, err
	}
	if err := m.mark.Geometry.Validate(); err != nil {
		return m, err
	}
	return m, Plausible(m.mark)
}

// place reads latitude and longitude.
func (p *positionReader) place(record []string, g *catalog.Geometry) error {
	lat, _, err := p.number(record, "lat_deg")
	if err != nil {
		return err
	}
	lon, carrington, err := p.number(record, "lon_deg")
	if err != nil {
		return err
	}
	if !carrington {
		var ok bool
		if lon, ok, err = p.number(record, "cmd_deg"); err != nil {
			return err
		} else if !ok {
			return errors.New("a latitude without lon_deg or cmd_deg")
		}
	} else if lon == 360 {
		lon = 0
	}
	sigma, err := p.sigmaOfPlace(record, lat)
	if err != nil {
		return err
	}
	g.Places = []catalog.PlacePoint{{B: degrees(lat), Lon: degrees(lon), ByCMD: !carrington}}
	g.SigmaPlace = degrees(sigma)
	return nil
}

// sigmaOfPlace reads the error of a place along each direction on the Sun; 0 when
// none is there. Of two that differ it is the larger.
func (p *positionReader) sigmaOfPlace(record []string, latDeg float64) (float64, error) {
	var worst float64
	for _, column := range []string{"sigma_deg", "sigma_lat_deg", "sigma_lon_deg"} {
		sigma, given, err := p.number(record, column)
		if err != nil || !given {
			if err != nil {
				return 0, err
			}
			continue
		}
		if sigma <= 0 {
			return 0, fmt.Errorf("%s %g: want more than 0, or nothing", column, sigma)
		}
		switch column {
		case "sigma_deg":
			return sigma, nil
		case "sigma_lon_deg":
			sigma *= degrees(latDeg).Cos()
		}
		worst = max(worst, sigma)
	}
	return worst, nil
}

// polar reads position angle and distance from the centre.
func (p *positionReader) polar(record []string, g *catalog.Geometry, utc time.Time) error {
	pa, ok, err := p.number(record, "pa_deg")
	if err != nil {
		return err
	}
	if !ok {
		return errors.New("neither lat_deg nor pa_deg")
	}
	height, high, err := p.number(record, "height_mm")
	if err != nil {
		return err
	}
	r, ok, err := p.number(record, "r")
	if err != nil {
		return err
	}
	if high { // which no limb needs to be named for
		r = radiiOfHeight(height, utc)
	} else if !ok {
		return errors.New("a position angle without r or height_mm")
	}
	sigmaR, given, err := p.number(record, "sigma_r")
	if err != nil {
		return err
	}
	if !given && high {
		sigmaHeight, _, err := p.number(record, "sigma_height_mm")
		if err != nil {
			return err
		}
		sigmaR = sigmaHeight / coords.SolarRadiusMm
	}
	sigmaPA, _, err := p.number(record, "sigma_pa_deg")
	if err != nil {
		return err
	}
	g.Polar = []catalog.PolarPoint{{PA: degrees(pa), R: r}}
	g.SigmaR, g.SigmaPA = sigmaR, degrees(sigmaPA)
	return nil
}

// radiiOfHeight is how far from the centre, in radii of the photosphere, something
// appears that stands heightMm above the photospheric limb.
func radiiOfHeight(heightMm float64, utc time.Time) float64 {
	s := ephemeris.At(utc).Semidiameter
	return float64(coords.Asin((1+heightMm/coords.SolarRadiusMm)*s.Sin()) / s)
}

// utcLayouts are the ways in which an instant may be written in a column of UTC.
var utcLayouts = []string{"2006-01-02T15:04:05.999999999", "2006-01-02 15:04:05.999999999", "2006-01-02T15:04", "2006-01-02 15:04"}

// ParseUTC reads an instant that is known to be UTC: a date and a time, with or
// without a Z. Another zone's offset is refused.
func ParseUTC(text string) (time.Time, error) {
	bare := strings.TrimSuffix(text, "Z")
	for _, layout := range utcLayouts {
		if t, err := time.Parse(layout, bare); err == nil {
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf("utc %q: want a date and time, as in 2026-03-14T09:12:05Z", text)
}
