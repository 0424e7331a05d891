package chart

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
)

// attributesOf reads an SVG as a browser does: it gives every value of each attribute
// and how often each element is there.
func attributesOf(t *testing.T, c *canvas.Canvas) (values map[string][]string, elements map[string]int) {
	var b bytes.Buffer
	require.NoError(t, c.WriteSVG(&b))
	values, elements = map[string][]string{}, map[string]int{}
	for decoder := xml.NewDecoder(&b); ; {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			return values, elements
		}
		require.NoError(t, err)
		if start, ok := token.(xml.StartElement); ok {
			elements[start.Name.Local]++
			for _, a := range start.Attr {
				values[a.Name.Local] = append(values[a.Name.Local], a.Value)
			}
		}
	}
}

// Whatever is drawn of a mark leads to it, to its frame and to its day; and nothing in
// an SVG is stopped by a strict Content-Security-Policy (style-src and script-src of
// CSP level 3, W3C: style attributes, style elements, scripts and on… attributes).
func TestSVGLeadsBackToTheCatalogue(t *testing.T) {
	looks, entries := paintedMonth(t)
	for i := range entries {
		entries[i].Join = &catalog.Join{Passage: catalog.PassageID(entries[i].Mark.ID%7 + 1)}
	}
	from, to := catalog.DayOf(looks[0].UTC), catalog.DayOf(looks[len(looks)-1].UTC).AddDate(0, 0, 1)
	first := func() (of []catalog.Entry) {
		for _, e := range entries {
			if e.Frame.ID == looks[0].Frame {
				of = append(of, e)
			}
		}
		return of
	}()
	require.NotEmpty(t, first)
	var sights []Sight
	for _, e := range entries {
		if m, ok := e.Position.Reading(); ok && e.Join.Passage == 3 {
			sights = append(sights, Sight{UTC: e.Position.UTC, Place: m, Mark: e.Mark.ID, Frame: e.Frame.ID})
		}
	}
	all := []string{"data-mark", "data-frame", "data-passage", "data-day"}
	for name, c := range map[string]struct {
		draw func() (*canvas.Canvas, error)
		has  []string
	}{
		"disc": {func() (*canvas.Canvas, error) {
			return Disc(DiscInput{Frame: looks[0].Frame, View: *looks[0].View, UTC: looks[0].UTC, Entries: first}, Options{})
		}, all},
		"map": {func() (*canvas.Canvas, error) {
			return Map(MapInput{Rotation: 2308, Looks: looks, Entries: entries}, Options{})
		}, all},
		"latitudes": {func() (*canvas.Canvas, error) {
			return Latitudes(LatitudesInput{From: from, To: to, Entries: entries}, Options{})
		}, all},
		"numbers": {func() (*canvas.Canvas, error) {
			return Numbers(NumbersInput{From: from, To: to, Series: []Series{{Name: "spots", Days: []DayCount{{Day: from, Count: 3}}}}}, Options{})
		}, []string{"data-day"}},
		"passage": {func() (*canvas.Canvas, error) {
			return Passage(PassageInput{Passage: 3, Name: "P3", Observed: sights}, Options{})
		}, all},
		"rates": {func() (*canvas.Canvas, error) {
			return Rates(RatesInput{Points: []Rate{{Name: "a", DegPerDay: 14, Sigma: 0.1, Passage: 4}}}, Options{})
		}, []string{"data-passage"}},
		"coming": {func() (*canvas.Canvas, error) {
			return Calendar(ComingInput{From: from, To: to, Items: []Coming{{Name: "a", Passage: 4, Mark: 8, Frame: 2, East: Moment{from.AddDate(0, 0, 3), time.Hour}}}}, Options{})
		}, []string{"data-mark", "data-frame", "data-passage"}},
	} {
		drawn, err := c.draw()
		require.NoError(t, err, name)
		values, elements := attributesOf(t, drawn)
		for _, want := range c.has {
			assert.NotEmpty(t, values[want], "%s: %s", name, want)
		}
		for attribute := range values {
			assert.NotEqual(t, "style", attribute, name)
			assert.False(t, strings.HasPrefix(strings.ToLower(attribute), "on"), "%s: %s", name, attribute)
		}
		for _, href := range values["href"] {
			assert.True(t, strings.HasPrefix(href, "data:image/"), "%s: nothing is fetched: %.40s", name, href)
		}
		assert.Zero(t, elements["script"]+elements["style"]+elements["foreignObject"], name)
		assert.Greater(t, elements["title"], 1, "%s: what is touched tells what it is", name)
		marks := map[string]bool{}
		for _, e := range entries {
			marks[e.Mark.ID.String()] = true
		}
		if name != "coming" {
			for _, mark := range values["data-mark"] {
				assert.True(t, marks[mark], "%s: %s is a mark", name, mark)
			}
		}
	}
	c, err := Disc(DiscInput{Frame: looks[0].Frame, View: *looks[0].View, UTC: looks[0].UTC, Entries: first}, Options{})
	require.NoError(t, err)
	values, _ := attributesOf(t, c)
	for _, e := range first {
		assert.Contains(t, values["data-mark"], e.Mark.ID.String(), "every mark of the frame")
	}
	assert.Contains(t, values["data-day"], isoDay(looks[0].UTC))
}
