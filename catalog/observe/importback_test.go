package observe_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/gather"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/report"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// exported is what "export marks" writes of a catalogue.
func exported(t *testing.T, k observe.Keeper) (text string, rows []map[string]string) {
	t.Helper()
	entries, err := k.Store.Read(ctx).Entries(store.Query{})
	require.NoError(t, err)
	marks, err := gather.MeasureAll(ctx, k, entries)
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, report.WriteCSV(&b, marks))
	records, err := csv.NewReader(strings.NewReader(b.String())).ReadAll()
	require.NoError(t, err)
	for _, record := range records[1:] {
		row := map[string]string{}
		for i, name := range records[0] {
			row[name] = record[i]
		}
		rows = append(rows, row)
	}
	return b.String(), rows
}

// anyRow is a mark as somebody may have made it: of any kind, in any way, with much said
// of it or nothing.
func anyRow(r *rand.Rand, observers []catalog.ObserverID) catalog.Mark {
	words := []string{"", "12", "007", "=1+1", "a|b", `back\slash`, "Mar 1", "'quoted'", "line one\nline two", "north, near the limb", "ß ☉"}
	word := func() string { return words[r.IntN(len(words))] }
	m := catalog.Mark{Kind: []catalog.Kind{catalog.Sunspot, catalog.Plage, catalog.Filament, catalog.Prominence, catalog.Other}[r.IntN(5)],
		Label: strings.ReplaceAll(word(), "\n", " "), Note: word(), Observer: observers[r.IntN(len(observers))]}
	for range r.IntN(3) {
		if name := strings.ReplaceAll(word(), "\n", " "); name != "" {
			m.Aliases = append(m.Aliases, name)
		}
	}
	if m.Kind == catalog.Sunspot {
		m.Extent = catalog.Extent(r.IntN(3))
		if m.Extent != catalog.SingleSpot {
			m.Spots = r.IntN(30)
		}
	}
	given := func(most float64) catalog.Given {
		switch r.IntN(3) {
		case 0:
			return catalog.Given{}
		case 1:
			return catalog.Given{Value: most * r.Float64(), Known: true}
		}
		return catalog.Given{Value: most * r.Float64(), Sigma: r.Float64(), Known: true}
	}
	m.Sizes = catalog.Sizes{AreaMSH: given(3000), LengthKm: given(400_000), TiltDeg: given(90)}
	if r.IntN(3) == 0 {
		m.Height = &coords.Layer{HeightMm: 60 * r.Float64(), SigmaMm: 10 * r.Float64()}
	}
	sigma := deg(3 * r.Float64())
	if r.IntN(4) == 0 {
		sigma = 0
	}
	pa, top := deg(360*r.Float64()), 1.01+0.2*r.Float64()
	switch g := &m.Geometry; {
	case m.Kind == catalog.Prominence && r.IntN(2) == 0: // drawn over its feet
		g.Shape, g.SigmaPA, g.SigmaR = catalog.Line, sigma, 0.001
		g.Polar = []catalog.PolarPoint{{PA: (pa - deg(2)).Wrap360(), R: 1}, {PA: pa, R: top}, {PA: (pa + deg(2)).Wrap360(), R: 1}}
	case m.Kind == catalog.Prominence:
		g.Shape, g.SigmaPA, g.SigmaR = catalog.Point, sigma, 0.001
		g.Polar = []catalog.PolarPoint{{PA: pa, R: top}}
	default:
		g.Shape, g.SigmaPlace = catalog.Point, sigma
		g.Places = []catalog.PlacePoint{{B: deg(80*r.Float64() - 40), Lon: deg(360 * r.Float64())}}
		if r.IntN(2) == 0 {
			g.Places[0].Lon, g.Places[0].ByCMD = deg(160*r.Float64()-80), true
		}
	}
	return m
}

// What is exported and imported again is exported the same: all that was said of a mark,
// and where it lies. A second import of it, here or there, keeps nothing.
func TestMarksComeBackFromATable(t *testing.T) {
	r := rand.New(rand.NewPCG(10, 5))
	first := keeper(t)
	observers := []catalog.ObserverID{0}
	for _, o := range []catalog.Observer{{Name: "R. Vane", Code: "RV"}, {Name: "=Ada, Q."}} {
		kept, err := first.AddObserver(ctx, o)
		require.NoError(t, err)
		observers = append(observers, kept.ID)
	}
	for day := range 25 {
		var marks []catalog.Mark
		for range 8 {
			marks = append(marks, anyRow(r, observers))
		}
		at := time.Date(1950, 3, 1+day*15, r.IntN(24), r.IntN(60), r.IntN(60), 0, time.UTC)
		_, _, err := first.AddMarksAt(ctx, observe.NewInstant{UTC: at}, marks)
		require.NoError(t, err)
	}
	text, before := exported(t, first)
	second := keeper(t)
	done, err := second.ImportPositions(ctx, strings.NewReader(text), observe.ImportOptions{})
	require.NoError(t, err)
	require.Equal(t, len(before), done.Kept)
	assert.Empty(t, done.Ignored)
	assert.ElementsMatch(t, []string{"R. Vane", "=Ada, Q."}, done.Observers)
	_, after := exported(t, second)
	require.Len(t, after, len(before))
	for i := range before {
		for name, was := range before[i] {
			switch name {
			case "mark", "frame", "uuid", "corr_lat_lon":
				continue // of their own catalogue; of a place without a direction of its own
			}
			is := after[i][name]
			a, errA := parseNumber(was)
			b, errB := parseNumber(is)
			if errA == nil && errB == nil {
				assert.InDelta(t, a, b, 1e-5*math.Max(1, math.Abs(a)), "%s of %v", name, before[i])
				continue
			}
			assert.Equal(t, was, is, "%s of %v", name, before[i])
		}
	}
	for _, k := range []observe.Keeper{first, second} {
		again, err := k.ImportPositions(ctx, strings.NewReader(text), observe.ImportOptions{})
		require.NoError(t, err)
		assert.Zero(t, again.Kept)
		assert.Equal(t, len(before), again.TwiceRows)
	}
	o, err := second.Store.Read(ctx).Observers()
	require.NoError(t, err)
	assert.Len(t, o, 2)
	for _, one := range o {
		assert.False(t, one.Default, "who is named in a table is not meant when nobody is named")
	}
}

func parseNumber(text string) (v float64, err error) {
	_, err = fmt.Sscanf(text+"\n", "%g\n", &v)
	return v, err
}

// What stands for a whole file stands for the rows that do not say.
func TestAWholeFileIsOfGroupsAndOfAnObserver(t *testing.T) {
	k := keeper(t)
	o, err := k.AddObserver(ctx, catalog.Observer{Name: "R. Vane"})
	require.NoError(t, err)
	const file = "kind,utc,lat_deg,lon_deg,extent,observer,spots,height_mm\n" +
		"sunspot,1937-07-01T08:00:00Z,10,20,,,7,\n" +
		"sunspot,1937-07-01T08:00:00Z,11,22,single,A. Other,,\n" +
		"plage,1937-07-01T08:00:00Z,11,22,,,,\n" +
		"filament,1937-07-01T08:00:00Z,11,22,,,,40\n"
	_, err = k.ImportPositions(ctx, strings.NewReader(file), observe.ImportOptions{Extent: catalog.SpotGroup, Observer: o.ID})
	require.NoError(t, err)
	_, rows := exported(t, k)
	var said []string
	for _, row := range rows {
		said = append(said, strings.Join([]string{row["kind"], row["extent"], row["spots"], row["observer"], row["given_height_km"], row["sigma_given_height_km"]}, " "))
	}
	assert.Equal(t, []string{"sunspot group 7 R. Vane  ", "sunspot single  A. Other  ", "plage   R. Vane  ", "filament   R. Vane 40000 4000"}, said)
	_, err = k.Undo(ctx)
	require.NoError(t, err)
	all, err := k.Store.Read(ctx).Observers()
	require.NoError(t, err)
	assert.Len(t, all, 1, "who came with the file goes with it")
}
