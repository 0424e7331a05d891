package observe

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"limbwatch/catalog"
	"limbwatch/catalog/exchange"
	"limbwatch/catalog/field"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// column is one of those that an import of positions reads.
type column int

const (
	kindColumn column = iota
	utcColumn
	latColumn
	lonColumn
	cmdColumn
	paColumn
	rColumn
	heightColumn
	sigmaColumn
	sigmaLatColumn
	sigmaLonColumn
	sigmaRColumn
	sigmaHeightColumn
	sigmaPAColumn
	paFromColumn
	paToColumn
	limbExtentColumn
	givenHeightColumn
	sigmaGivenHeightColumn
	extentColumn
	spotsColumn
	areaColumn
	sigmaAreaColumn
	lengthColumn
	sigmaLengthColumn
	tiltColumn
	sigmaTiltColumn
	labelColumn
	aliasesColumn
	noteColumn
	observerColumn
	uuidColumn
	reasonColumn
	columns
)

var positionColumns = [columns]string{"kind", "utc", "lat_deg", "lon_deg", "cmd_deg", "pa_deg", "r", "height_km",
	"sigma_deg", "sigma_lat_deg", "sigma_lon_deg", "sigma_r", "sigma_height_km", "sigma_pa_deg",
	"pa_from_deg", "pa_to_deg", "extent_deg", "given_height_km", "sigma_given_height_km", "extent", "spots",
	"area_msh", "sigma_area_msh", "length_km", "sigma_length_km", "tilt_deg", "sigma_tilt_deg",
	"label", "aliases", "note", "observer", "uuid", "no_position_because"}

// rejectedColumn is the one in which refused rows say why.
const rejectedColumn = "rejected_because"

// formerColumns are names that columns had when heights and lengths were in megametres.
var formerColumns = func() map[string]column {
	former := map[string]column{}
	for c, name := range positionColumns {
		if in, ok := strings.CutSuffix(name, "_km"); ok {
			former[in+"_mm"] = column(c)
		}
	}
	return former
}()

// followingColumns stand in what "export marks" writes, and wrote, and follow from the
// others, or are worked out anew: who follows is the program again, and shapes are not in
// a table.
var followingColumns = func() []string {
	names := []string{"assumed_height_mm", rejectedColumn}
	for _, f := range field.Marks {
		if !slices.Contains(positionColumns[:], f.Name) {
			names = append(names, f.Name)
		}
	}
	return names
}()

// importedMark is one row: a mark without its frame, its instant and where it then lies.
//
//	observer  as the row names who marked it
//	uuid      of the mark that the row was written from, if it says so
//	off       by how much its longitude and its distance from the meridian contradict
//	          each other; nil when they do not
//	offSky    the same of its place and its angle with its distance from the centre
type importedMark struct {
	line     int
	utc      time.Time
	mark     catalog.Mark
	position catalog.Position
	observer string
	uuid     uuid.UUID
	both     bool // of lon_deg and cmd_deg
	off      *contradiction
	offSky   *skyContradiction
}

// parse turns a record into a mark.
func (p *positionReader) parse(record []string) (m importedMark, err error) {
	if m.mark.Kind, err = catalog.ParseKind(p.field(record, kindColumn)); err != nil {
		return m, err
	}
	if text := p.field(record, utcColumn); text == "" || text != p.written { // rows of one instant mostly stand together
		utc, err := ParseUTC(text)
		if err != nil {
			return m, err
		}
		p.written, p.utc = strings.Clone(text), utc.Round(time.Millisecond) // as it is kept
	}
	m.utc = p.utc
	if err := ephemeris.Check(m.utc); err != nil {
		return m, err
	}
	if !m.utc.Equal(p.moment.utc) {
		p.moment = instantOf(catalog.Bearings{Frame: catalog.Frame{Taken: m.utc, Moment: catalog.MomentMiddle}})
	}
	if err := p.words(record, &m); err != nil {
		return m, err
	}
	if err := p.sizes(record, &m.mark); err != nil {
		return m, err
	}
	m.mark.Geometry.Shape = catalog.Point
	switch {
	case p.field(record, latColumn) != "":
		err = p.place(record, &m)
	case p.field(record, paColumn) != "":
		err = p.polar(record, &m)
	case p.field(record, reasonColumn) != "":
		err = fmt.Errorf("it has no position: %s", p.field(record, reasonColumn))
	default:
		err = errors.New("neither lat_deg nor pa_deg")
	}
	if err != nil {
		return m, err
	}
	probe := m.mark // as it will be, but for what the keeper fills in
	probe.Frame, probe.MarkedAt = 1, m.utc
	if err := probe.Validate(); err != nil {
		return m, err
	}
	m.position = p.moment.derive(catalog.Bearings{}, m.mark)
	m.offSky, err = p.besidePlace(record, m.position)
	return m, err
}

// words reads what is said of a mark beside its figures.
func (p *positionReader) words(record []string, m *importedMark) (err error) {
	m.mark.Label, m.mark.Note = exchange.Typed(p.field(record, labelColumn)), exchange.Typed(p.field(record, noteColumn))
	m.mark.Aliases = exchange.NamesOf(exchange.Typed(p.field(record, aliasesColumn)))
	m.observer = exchange.Typed(p.field(record, observerColumn))
	if m.mark.Extent, err = catalog.ParseExtent(p.field(record, extentColumn)); err != nil {
		return err
	}
	if m.mark.Extent == catalog.ExtentUnknown && m.mark.Kind == catalog.Sunspot {
		m.mark.Extent = p.extent
	}
	if text := p.field(record, spotsColumn); text != "" {
		if m.mark.Spots, err = strconv.Atoi(text); err != nil {
			return fmt.Errorf("spots %q: want a whole number", text)
		}
	}
	if text := p.field(record, uuidColumn); text != "" {
		if m.uuid, err = uuid.Parse(text); err != nil {
			return fmt.Errorf("uuid %q: want one as in RFC 9562, or nothing", text)
		}
	}
	return nil
}

// sizes reads how large and how high the row says that it is.
func (p *positionReader) sizes(record []string, m *catalog.Mark) (err error) {
	for _, f := range []struct {
		value, sigma column
		to           *catalog.Given
	}{{areaColumn, sigmaAreaColumn, &m.Sizes.AreaMSH}, {lengthColumn, sigmaLengthColumn, &m.Sizes.LengthKm}, {tiltColumn, sigmaTiltColumn, &m.Sizes.TiltDeg}} {
		if f.to.Value, f.to.Known, err = p.number(record, f.value); err != nil || !f.to.Known {
			if err != nil {
				return err
			}
			continue
		}
		if f.to.Sigma, err = p.sigma(record, f.sigma); err != nil {
			return err
		}
	}
	m.Height, err = p.height(record, givenHeightColumn, sigmaGivenHeightColumn)
	return err
}

// height reads how high a mark stands by the word of its observer, nil when the row
// does not say. One without an error has that of a typed height.
func (p *positionReader) height(record []string, value, sigma column) (*coords.Layer, error) {
	km, given, err := p.number(record, value)
	if err != nil || !given {
		return nil, err
	}
	mm := km / kmInMm
	sigmaKm, _, err := p.number(record, sigma)
	sigmaMm := sigmaKm / kmInMm
	if err == nil && p.field(record, sigma) == "" {
		sigmaMm = UsualHeightSigmaMm(mm)
	}
	return &coords.Layer{HeightMm: mm, SigmaMm: sigmaMm}, err
}

const kmInMm = 1000

// UsualHeightSigmaMm is how well a height is known that was given without an error
// (common practice, no source).
func UsualHeightSigmaMm(heightMm float64) float64 { return max(1, heightMm/10) }

// place reads latitude and longitude.
func (p *positionReader) place(record []string, m *importedMark) error {
	lat, _, err := p.number(record, latColumn)
	if err != nil {
		return err
	}
	lon, carrington, err := p.number(record, lonColumn)
	if err != nil {
		return err
	}
	cmd, fromMeridian, err := p.number(record, cmdColumn)
	switch {
	case err != nil:
		return err
	case !carrington && !fromMeridian:
		return errors.New("a latitude without lon_deg or cmd_deg")
	case !carrington:
		lon = cmd
	case fromMeridian:
		m.both = true
		room := roomOfL0Deg(m.utc) + p.halfDigit(record, lonColumn) + p.halfDigit(record, cmdColumn)
		m.off = contradictionOf(p.moment.face.L0.Degrees(), lon, cmd, room)
	}
	if carrington && lon == 360 {
		lon = 0
	}
	sigma, err := p.sigmaOfPlace(record, lat)
	if err != nil {
		return err
	}
	g := &m.mark.Geometry
	g.Places = []catalog.PlacePoint{{B: degrees(lat), Lon: degrees(lon), ByCMD: !carrington}}
	g.SigmaPlace = degrees(sigma)
	if m.mark.Height == nil && p.field(record, paColumn) == "" { // beside a place and an angle it is that of a top beyond the limb
		m.mark.Height, err = p.height(record, heightColumn, sigmaHeightColumn)
	}
	return err
}

// halfDigit is by how much a number may be off as it was written: half a unit of the last
// digit that its column has had so far. Whole degrees stay such when they are printed as
// 12.0 throughout.
func (p *positionReader) halfDigit(record []string, c column) float64 {
	_, fraction, _ := strings.Cut(strings.Replace(p.field(record, c), ",", ".", 1), ".")
	p.decimals[c] = max(p.decimals[c], len(strings.TrimRight(fraction, "0")))
	return 0.5 * math.Pow(10, -float64(p.decimals[c]))
}

// sigmaOfPlace reads the error of a place along each direction on the Sun; 0 when
// none is there. Of two that differ it is the larger.
func (p *positionReader) sigmaOfPlace(record []string, latDeg float64) (float64, error) {
	if sigma, err := p.sigma(record, sigmaColumn); err != nil || sigma > 0 {
		return sigma, err
	}
	lat, err := p.sigma(record, sigmaLatColumn)
	if err != nil {
		return 0, err
	}
	lon, err := p.sigma(record, sigmaLonColumn)
	return max(lat, lon*degrees(latDeg).Cos()), err
}

// insideR is from where inwards a distance from the centre is meant as such, although
// a height stands beside it: that of what lies on the disc.
const insideR = 0.995

// polar reads position angle and distance from the centre.
func (p *positionReader) polar(record []string, m *importedMark) error {
	pa, _, err := p.number(record, paColumn)
	if err != nil {
		return err
	}
	height, high, err := p.number(record, heightColumn)
	if err != nil {
		return err
	}
	r, ok, err := p.number(record, rColumn)
	if err != nil {
		return err
	}
	switch {
	case high && ok && r < insideR:
		if m.mark.Height == nil {
			if m.mark.Height, err = p.height(record, heightColumn, sigmaHeightColumn); err != nil {
				return err
			}
		}
		high = false
	case high: // which no limb needs to be named for
		r = radiiOfHeight(height/kmInMm, p.moment.face.Semidiameter)
	case !ok:
		return errors.New("a position angle without r or height_km")
	}
	g := &m.mark.Geometry
	if g.SigmaR, _, err = p.number(record, sigmaRColumn); err != nil {
		return err
	}
	if p.field(record, sigmaRColumn) == "" && high {
		sigmaHeight, _, err := p.number(record, sigmaHeightColumn)
		if err != nil {
			return err
		}
		g.SigmaR = sigmaHeight / kmInMm / coords.SolarRadiusMm
	}
	sigmaPA, _, err := p.number(record, sigmaPAColumn)
	if err != nil {
		return err
	}
	g.SigmaPA = degrees(sigmaPA)
	g.Polar = []catalog.PolarPoint{{PA: degrees(pa), R: r}}
	return p.feet(record, g)
}

// feet reads where along the limb stands what rises above it: as it is drawn, from one
// foot over the top to the other.
func (p *positionReader) feet(record []string, g *catalog.Geometry) error {
	from, one, err := p.number(record, paFromColumn)
	if err != nil {
		return err
	}
	to, other, err := p.number(record, paToColumn)
	if err != nil {
		return err
	}
	extent, wide, err := p.number(record, limbExtentColumn)
	if err != nil {
		return err
	}
	top := g.Polar[0]
	switch {
	case one != other:
		return errors.New("one of pa_from_deg and pa_to_deg without the other")
	case !one && wide && extent > 0:
		from, to = top.PA.Degrees()-extent/2, top.PA.Degrees()+extent/2
	}
	if from == to || top.R <= 1 {
		return nil
	}
	g.Shape = catalog.Line
	g.Polar = []catalog.PolarPoint{{PA: degrees(from).Wrap360(), R: 1}, top, {PA: degrees(to).Wrap360(), R: 1}}
	return nil
}

// radiiOfHeight is how far from the centre, in radii of the photosphere, something
// appears that stands heightMm above the photospheric limb.
func radiiOfHeight(heightMm float64, semidiameter coords.Angle) float64 {
	return float64(coords.Asin((1+heightMm/coords.SolarRadiusMm)*semidiameter.Sin()) / semidiameter)
}
