package report

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"limbwatch/catalog"
	"limbwatch/catalog/chart"
	"limbwatch/catalog/measure"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
)

// Widths of the charts: letters keep their size, so these are such that they are
// legible at the width that each has on paper.
const (
	mapWidth  = 860
	discWidth = 420
)

// maps draws the strip map of the report's rotation, or of those of which its days
// saw something.
func (c composer) maps() (*Section, error) {
	if !c.observedAnything() {
		return nil, nil
	}
	figures := &Figures{PerRow: 1}
	for _, number := range c.rotations() {
		begin, end := ephemeris.RotationStart(number), ephemeris.RotationStart(number+1)
		in := chart.MapInput{Rotation: number}
		const reach = 7 * 24 * time.Hour
		for _, l := range c.Looks {
			if l.UTC.After(begin.Add(-reach)) && l.UTC.Before(end.Add(reach)) {
				in.Looks = append(in.Looks, l)
			}
		}
		for _, e := range slices.Concat(c.Entries, c.Surroundings) {
			if e.Position.UTC.After(begin.Add(-reach)) && e.Position.UTC.Before(end.Add(reach)) {
				in.Entries = append(in.Entries, e)
			}
		}
		drawn, err := chart.Map(in, chartOptions(mapWidth))
		if err != nil {
			return nil, err
		}
		caption := fmt.Sprintf("Rotation %d began on %s UT. Each longitude as it stood when it passed the meridian.",
			number, begin.Format("2 January 2006 15:04"))
		figures.Items = append(figures.Items, Figure{Chart: drawn, Caption: caption})
	}
	if len(figures.Items) == 0 {
		return nil, nil
	}
	title := "The rotation unrolled"
	if len(figures.Items) > 1 {
		title = "The rotations unrolled"
	}
	return &Section{Title: title, Blocks: []Block{{Figures: figures}}}, nil
}

// Series are the daily counts of days as the chart of daily numbers draws them: the same
// as the report's table. A day on which a kind was not looked for is left out.
func Series(days []Day) (all []chart.Series) {
	for _, series := range []struct {
		name  string
		kind  catalog.Kind
		tally catalog.Tally
	}{
		{"Sunspot groups", catalog.Sunspot, catalog.TallyGroups}, {"Filaments", catalog.Filament, catalog.TallyFilaments},
		{"Prominences (places)", catalog.Prominence, catalog.TallyProminences}, {"Plages", catalog.Plage, catalog.TallyPlages},
	} {
		drawn := chart.Series{Name: series.name, Kind: series.kind}
		for _, d := range days {
			if n := d.Counts[series.tally].Total; n != nil {
				drawn.Days = append(drawn.Days, chart.DayCount{Day: d.Date, Count: float64(*n)})
			}
		}
		if len(drawn.Days) > 0 {
			all = append(all, drawn)
		}
	}
	return all
}

// numbers draws the daily counts of what was looked for on at least two days.
func (c composer) numbers() ([]Block, error) {
	in := chart.NumbersInput{From: c.Period.From, To: c.Period.To}
	for _, series := range Series(c.days) {
		if len(series.Days) > 1 {
			in.Series = append(in.Series, series)
		}
	}
	if len(in.Series) == 0 {
		return nil, nil
	}
	drawn, err := chart.Numbers(in, chartOptions(mapWidth))
	if err != nil {
		return nil, fmt.Errorf("daily numbers: %w", err)
	}
	return []Block{{Figures: &Figures{PerRow: 1, Items: []Figure{{Chart: drawn}}}}}, nil
}

func (c composer) observedAnything() bool { return len(c.Entries)+len(c.Looks) > 0 }

// rotations are those that the report shows: its own; or those of which at least two
// days were observed, or one day where none has more. Days before Carrington's first
// rotation, of November 1853, are of none.
func (c composer) rotations() []int {
	if c.Period.Rotation > 0 {
		return []int{c.Period.Rotation}
	}
	days := map[int]int{}
	most := 0
	for _, d := range c.days {
		if d.Observed() {
			if n := int(math.Floor(ephemeris.Rotation(d.Date.Add(12 * time.Hour)))); n >= 1 {
				days[n]++
				most = max(most, days[n])
			}
		}
	}
	var numbers []int
	for n, observed := range days {
		if observed >= min(2, most) {
			numbers = append(numbers, n)
		}
	}
	slices.Sort(numbers)
	return numbers
}

// discs draws each observed day's annotated disc.
func (c composer) discs() (*Section, error) {
	type lookedAt struct {
		day  Day
		look chart.Look
	}
	var looked []lookedAt
	for _, d := range c.days {
		for _, look := range c.looksOf(d) {
			looked = append(looked, lookedAt{d, look})
		}
	}
	figures := &Figures{PerRow: 2, Items: make([]Figure, len(looked))}
	compared := make([][]measure.Marked, len(looked))
	var drawing errgroup.Group
	drawing.SetLimit(runtime.GOMAXPROCS(0))
	for i, l := range looked {
		drawing.Go(func() (err error) {
			figures.Items[i], compared[i], err = c.disc(l.day, l.look)
			return err
		})
	}
	if err := drawing.Wait(); err != nil {
		return nil, err
	}
	for _, m := range slices.Concat(compared...) {
		c.contrasts[m.Mark.ID] = m.Contrast
	}
	if len(figures.Items) == 0 {
		return nil, nil
	}
	return &Section{Title: "The Sun, day by day", NewPage: true, Blocks: []Block{
		{Figures: figures}, small("Solar north is up, east left. The grid counts latitude and distance from the central meridian.")}}, nil
}

// looksOf chooses the frame that a day's disc is drawn on: of those whose disc and
// north are known the one with most marks, and with a picture before one without.
// Marks of the day's other frames are drawn on it too, where they stood.
func (c composer) looksOf(d Day) []chart.Look {
	marks := map[catalog.FrameID]int{}
	for _, s := range d.Sightings {
		for _, e := range s.Entries {
			marks[e.Frame.ID]++
		}
	}
	var best *chart.Look
	worth := -1
	for i, l := range c.Looks {
		if l.View == nil || !c.belongs(l, d) {
			continue
		}
		n := 2*marks[l.Frame] + 1
		if l.FrameWidthPx > 0 {
			n += 1000
		}
		if n > worth {
			best, worth = &c.Looks[i], n
		}
	}
	if best == nil {
		return nil
	}
	return []chart.Look{*best}
}

// belongs says whether a look is one of the day's sittings, or of that UT day when it
// belongs to none.
func (c composer) belongs(l chart.Look, d Day) bool {
	for _, s := range c.Sittings {
		for _, f := range s.Frames {
			if f.ID == l.Frame {
				return s.Day.Equal(d.Date)
			}
		}
	}
	return catalog.DayOf(l.UTC).Equal(d.Date)
}

// disc draws a day's disc, and compares the outlines on its picture with what lies
// round them while the picture is at hand.
func (c composer) disc(d Day, look chart.Look) (figure Figure, compared []measure.Marked, err error) {
	if look.FrameWidthPx > 0 && c.Picture != nil {
		if look.Picture, err = c.Picture(look.Frame); err != nil {
			return figure, nil, fmt.Errorf("picture of %s: %w", d.Date.Format(time.DateOnly), err)
		}
	}
	in := chart.DiscInput{Frame: look.Frame, Picture: look.Picture, FrameWidthPx: look.FrameWidthPx, View: *look.View, UTC: look.UTC}
	for _, kind := range catalog.Kinds {
		for _, s := range d.Of(kind) {
			e := c.entryOn(s, look.Frame)
			in.Entries = append(in.Entries, e)
			if m := measure.OfEntry(e, look.View); e.Frame.ID == look.Frame && look.Picture != nil {
				if m.Compare(look.Picture, look.FrameWidthPx, look.View.Limb); m.Contrast != nil {
					compared = append(compared, m)
				}
			}
		}
	}
	drawn, err := chart.Disc(in, chartOptions(discWidth))
	if err != nil {
		return figure, nil, fmt.Errorf("disc of %s: %w", d.Date.Format(time.DateOnly), err)
	}
	return Figure{Chart: drawn, Caption: c.discCaption(d, look)}, compared, nil
}

// entryOn is the mark of a sighting that stands on a frame. One that stands on another
// frame of the day only is drawn by its position angles and distances from the
// centre, which its own frame's limb and north give.
func (c composer) entryOn(s catalog.Sighting, frame catalog.FrameID) catalog.Entry {
	for _, e := range s.Entries {
		if e.Frame.ID == frame {
			return e
		}
	}
	e := s.Entries[s.Best]
	if e.Mark.Geometry.Form() != catalog.FormPixels {
		return e
	}
	if l := c.looks[e.Frame.ID]; l != nil && l.View != nil {
		e.Mark.Geometry = onPaper(e.Mark.Geometry, *l.View)
	}
	return e
}

// onPaper turns a geometry in pixels into position angles and radii of the limb.
func onPaper(g catalog.Geometry, view disc.View) catalog.Geometry {
	out := catalog.Geometry{Shape: g.Shape, PolarLimb: view.Layer}
	for _, p := range g.Pixels {
		u, v := view.Limb.Unit(p)
		out.Polar = append(out.Polar, catalog.PolarPoint{PA: view.North.PositionAngle(u, v), R: math.Hypot(u, v)})
	}
	return out
}

func (c composer) discCaption(d Day, look chart.Look) string {
	var parts []string
	for _, s := range d.Sittings {
		if seeing := ratingText(s.Seeing); seeing != "" {
			parts = append(parts, "seeing "+seeing)
			break
		}
	}
	var seen []string
	for _, kind := range catalog.Kinds {
		if n := len(d.Of(kind)); n > 0 {
			name := kind.String()
			if n > 1 {
				name = plural(kind)
			}
			seen = append(seen, fmt.Sprintf("%d %s", n, name))
		}
	}
	if len(seen) > 0 {
		parts = append(parts, listed(seen))
	}
	text := look.UTC.Format("2 January 15:04 UT")
	for _, p := range parts {
		text += " · " + p
	}
	return text
}
