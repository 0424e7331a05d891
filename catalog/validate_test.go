package catalog

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
)

var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)

func goodMark() Mark {
	return Mark{Frame: 1, Kind: Sunspot, MarkedAt: noon, Geometry: Geometry{
		Shape: Point, Pixels: []coords.Pixel{{X: 1, Y: 2}}, SigmaClickPx: 0.5}}
}

func TestWhatMakesNoSenseIsRefused(t *testing.T) {
	frame := Frame{Taken: noon}
	file := Frame{Taken: noon, Path: "/a", SHA256: strings.Repeat("a", 64), WidthPx: 10, HeightPx: 10}
	disc := Disc{Frame: 1, Limb: coords.Limb{RadiusPx: 100}, Method: DiscTyped, LayerFrom: LayerNamed}
	north := North{Frame: 1, Sigma: coords.Degree, Method: "typed"}
	half := 0.5
	join := Join{Mark: 1, Passage: 1, State: Made, By: ByObserver, Odds: &half}
	link := Link{From: 1, To: 2, Relation: Return, State: Proposed, By: ByProgram}
	places := func(points ...PlacePoint) Mark {
		m := goodMark()
		m.Geometry = Geometry{Shape: Point, Places: points}
		return m
	}
	for name, good := range map[string]interface{ Validate() error }{
		"observer": Observer{Name: "R. Vane"}, "site": Site{Name: "Yard", LatDeg: 51, LonDeg: -180, Zone: "Europe/Lisbon"},
		"instrument": Instrument{Name: "60 mm"}, "set-up": Setup{Name: "single", Instrument: 1, PassbandA: 0.7},
		"sitting": Sitting{Day: DayOf(noon), Looked: map[Kind]Look{Plage: NoneSeen}},
		"frame":   frame, "frame with a file": file, "disc": disc, "north": north, "mark": goodMark(),
		"place": places(PlacePoint{B: coords.Degree, Lon: 359 * coords.Degree}),
		"join":  join, "link": link, "passage": Passage{Name: "Alder", Kind: Filament},
	} {
		assert.NoError(t, good.Validate(), name)
	}
	mark := func(change func(*Mark)) Mark { m := goodMark(); change(&m); return m }
	for said, bad := range map[string]interface{ Validate() error }{
		"observer without a name":            Observer{Name: " "},
		"begins or ends with a blank":        Observer{Name: "R. Vane "},
		"site latitude 95":                   Site{Name: "Yard", LatDeg: 95},
		"site latitude NaN":                  Site{Name: "Yard", LatDeg: math.NaN()},
		"site longitude 181":                 Site{Name: "Yard", LonDeg: 181},
		`site zone "Local"`:                  Site{Name: "Yard", Zone: "Local"},
		`site zone "CEST"`:                   Site{Name: "Yard", Zone: "CEST"},
		"without an instrument":              Setup{Name: "single"},
		"passband -1":                        Setup{Name: "single", Instrument: 1, PassbandA: -1},
		"height of the limb 500":             Setup{Name: "single", Instrument: 1, Edge: &coords.Layer{HeightMm: 500}},
		"want 0h UT":                         Sitting{Day: noon},
		"whether it looked for other":        Sitting{Day: DayOf(noon), Looked: map[Kind]Look{Other: NoneSeen}},
		`seeing "3" on scale ""`:             Sitting{Day: DayOf(noon), Seeing: Rating{Value: "3"}},
		"clock correction 1e+06":             Sitting{Day: DayOf(noon), ClockCorrectionS: 1e6},
		"frame without a time":               Frame{},
		"want a year from 1620":              Frame{Taken: noon.AddDate(-500, 0, 0)},
		"want both or neither":               Frame{Taken: noon, Path: "/a"},
		"without a file":                     Frame{Taken: noon, WidthPx: 10, HeightPx: 10},
		"hexadecimal digits":                 Frame{Taken: noon, Path: "/a", SHA256: "xyz", WidthPx: 1, HeightPx: 1},
		"exposure -1":                        Frame{Taken: noon, ExposureS: -1},
		"radius of the disc 0":               Disc{Frame: 1, Method: DiscTyped, LayerFrom: LayerNamed},
		"is no number":                       Disc{Frame: 1, Limb: coords.Limb{RadiusPx: math.Inf(1)}, Method: DiscTyped, LayerFrom: LayerNamed},
		"negative variance":                  Disc{Frame: 1, Limb: coords.Limb{RadiusPx: 100, Cov: coords.LimbCovariance{RR: -1}}, Method: DiscTyped, LayerFrom: LayerNamed},
		"disc without a method":              Disc{Frame: 1, Limb: coords.Limb{RadiusPx: 100}, LayerFrom: LayerNamed},
		"how its limb is known":              Disc{Frame: 1, Limb: coords.Limb{RadiusPx: 100}, Method: DiscTyped},
		"error of north 0":                   North{Frame: 1, Method: "typed"},
		"odds of the parity 0.3":             North{Frame: 1, Method: "typed", Sigma: coords.Degree, Parity: 0.3},
		"mark without a kind":                mark(func(m *Mark) { m.Kind = 0 }),
		"mark without a frame":               mark(func(m *Mark) { m.Frame = 0 }),
		"no point, line or outline":          mark(func(m *Mark) { m.Geometry.Shape = 0 }),
		"in 0 ways":                          mark(func(m *Mark) { m.Geometry.Pixels = nil }),
		"in 2 ways":                          mark(func(m *Mark) { m.Geometry.Polar = []PolarPoint{{}} }),
		"point with 2 vertices":              mark(func(m *Mark) { m.Geometry.Pixels = make([]coords.Pixel, 2) }),
		"line with 1 vertex":                 mark(func(m *Mark) { m.Geometry.Shape = Line }),
		"outline with 1 vertices":            mark(func(m *Mark) { m.Geometry.Shape = Outline }),
		"20001 vertices":                     mark(func(m *Mark) { m.Geometry.Shape, m.Geometry.Pixels = Line, make([]coords.Pixel, 20001) }),
		"(NaN, 2) px":                        mark(func(m *Mark) { m.Geometry.Pixels[0].X = math.NaN() }),
		"click error 0":                      mark(func(m *Mark) { m.Geometry.SigmaClickPx = 0 }),
		"plage with a count of spots":        mark(func(m *Mark) { m.Kind, m.Spots = Plage, 3 }),
		"single spot with 3":                 mark(func(m *Mark) { m.Extent, m.Spots = SingleSpot, 3 }),
		"same as itself":                     mark(func(m *Mark) { m.ID, m.SameAs = 3, 3 }),
		"empty alias":                        mark(func(m *Mark) { m.Aliases = []string{""} }),
		"when it was made":                   mark(func(m *Mark) { m.MarkedAt = time.Time{} }),
		"note of 20001 bytes":                mark(func(m *Mark) { m.Note = strings.Repeat("x", 20001) }),
		"latitude 91":                        places(PlacePoint{B: 91 * coords.Degree}),
		"Carrington longitude -10":           places(PlacePoint{Lon: -10 * coords.Degree}),
		"central meridian distance 190":      places(PlacePoint{Lon: 190 * coords.Degree, ByCMD: true}),
		"want both":                          Join{Mark: 1, State: Made, By: ByObserver},
		"neither made, proposed nor refused": Join{Mark: 1, Passage: 1, By: ByObserver},
		"whose word it is":                   Join{Mark: 1, Passage: 1, State: Made},
		"cannot be linked with itself":       Link{From: 1, To: 1, Relation: Return, State: Made, By: ByProgram},
		"no return, split or merger":         Link{From: 1, To: 2, State: Made, By: ByProgram},
		`passage "Alder" without a kind`:     Passage{Name: "Alder"},
	} {
		assert.ErrorContains(t, bad.Validate(), said)
	}
}

func TestTheMiddleOfAnExposure(t *testing.T) {
	f := Frame{Taken: noon, Moment: MomentStart, ExposureS: 60}
	assert.Equal(t, noon.Add(30*time.Second), f.Middle(0))
	assert.Equal(t, noon.Add(20*time.Second), f.Middle(-10), "on a clock that was 10 s fast")
	f.Moment = MomentEnd
	assert.Equal(t, noon.Add(-30*time.Second), f.Middle(0))
	f.Moment = MomentUnknown
	assert.Equal(t, noon, f.Middle(0))
}

func TestNamesAreReadAsTheyAreWritten(t *testing.T) {
	names(t, Kinds, ParseKind)
	names(t, []Look{NotLooked, LookedFor, NoneSeen}, ParseLook)
	names(t, []Role{RoleUnknown, RoleSurface, RoleLimb, RoleBoth}, ParseRole)
	names(t, []Moment{MomentUnknown, MomentStart, MomentMiddle, MomentEnd}, ParseMoment)
	names(t, []DiscMethod{DiscFitted, DiscPoints, DiscTyped, DiscHeader}, ParseDiscMethod)
	names(t, []LayerSource{LayerNamed, LayerPrior, LayerMeasured, LayerHeader}, ParseLayerSource)
	names(t, []Toward{TowardCelestial, TowardSolar, TowardZenith}, ParseToward)
	names(t, []Shape{Point, Line, Outline}, ParseShape)
	names(t, []Extent{ExtentUnknown, SpotGroup, SingleSpot}, ParseExtent)
	names(t, []Standing{Made, Proposed, Refused}, ParseStanding)
	names(t, []Voice{ByProgram, ByObserver}, ParseVoice)
	names(t, []Relation{Return, Split, Merger}, ParseRelation)
	names(t, []Act{Done, Undone, Redone}, ParseAct)
}

type name interface {
	comparable
	String() string
	MarshalText() ([]byte, error)
}

func names[T name](t *testing.T, values []T, parse func(string) (T, error)) {
	t.Helper()
	var none T
	for _, v := range values {
		text, err := v.MarshalText()
		require.NoError(t, err)
		assert.Equal(t, v.String(), string(text))
		got, err := parse(v.String())
		require.NoError(t, err)
		assert.Equal(t, v, got)
	}
	got, err := parse("nonsense")
	assert.Error(t, err)
	assert.Equal(t, none, got)
	if values[0] != none { // a zero that is no value has no name
		_, err := parse("")
		assert.Error(t, err)
	}
}

func TestOriginsAreTerminalOrAPage(t *testing.T) {
	assert.NoError(t, Terminal.Validate())
	assert.NoError(t, Desk("a1").Validate())
	for _, o := range []Origin{"", "desk:", "somewhere"} {
		assert.Error(t, o.Validate())
	}
}

func TestScaleOfAnInstrument(t *testing.T) {
	// 206.265 × 3.45 µm / 500 mm, the common formula.
	scale, ok := ScaleArcsec(Instrument{FocalMm: 500}, Setup{PixelUm: 3.45})
	assert.True(t, ok)
	assert.InDelta(t, 1.4232, scale, 1e-4)
	_, ok = ScaleArcsec(Instrument{}, Setup{PixelUm: 3.45})
	assert.False(t, ok)
}
