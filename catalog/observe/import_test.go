package observe_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

func manyRows(n int) string {
	var b bytes.Buffer
	b.WriteString("kind,utc,lat_deg,lon_deg,label,sigma_deg\n")
	day := time.Date(1950, 1, 1, 12, 0, 0, 0, time.UTC)
	for i := range n {
		fmt.Fprintf(&b, "sunspot,%s,%.1f,%.1f,%d,0.5\n", day.Add(time.Duration(i/10)*24*time.Hour).Format("2006-01-02T15:04:05Z"),
			float64(i%60)-30, float64(i*7%3600)/10, 10000+i/50)
	}
	return b.String()
}

func TestAnImportIsOneOperation(t *testing.T) {
	const n = 10_000
	k := keeper(t)
	done, err := k.ImportPositions(ctx, strings.NewReader(manyRows(n)), observe.ImportOptions{Source: "many.csv"})
	require.NoError(t, err)
	assert.Equal(t, n, done.Kept)
	assert.Equal(t, "M1", done.First.String())
	assert.Equal(t, "M10000", done.Last.String())
	count := func() int {
		entries, err := k.Store.Read(ctx).Entries(store.Query{})
		require.NoError(t, err)
		return len(entries)
	}
	assert.Equal(t, n, count())
	history, err := k.Store.Read(ctx).History("", 10)
	require.NoError(t, err)
	require.Len(t, history, 1)
	assert.Equal(t, "import positions many.csv: 10000 marks", history[0].Title)
	_, err = k.Undo(ctx)
	require.NoError(t, err)
	assert.Zero(t, count())
	_, err = k.Redo(ctx)
	require.NoError(t, err)
	assert.Equal(t, n, count())
}

func BenchmarkImportOf100000Positions(b *testing.B) {
	file := manyRows(100_000)
	for b.Loop() {
		_, err := keeper(b).ImportPositions(ctx, strings.NewReader(file), observe.ImportOptions{Source: "many.csv"})
		require.NoError(b, err)
	}
}

func BenchmarkReading100000Entries(b *testing.B) {
	k := keeper(b)
	_, err := k.ImportPositions(ctx, strings.NewReader(manyRows(100_000)), observe.ImportOptions{})
	require.NoError(b, err)
	for b.Loop() {
		entries, err := k.Store.Read(ctx).Entries(store.Query{})
		require.NoError(b, err)
		require.Len(b, entries, 100_000)
	}
}

func TestABadRowKeepsAllOutUnlessTheGoodAreWanted(t *testing.T) {
	const file = "\uFEFFlabel,kind,utc,lat_deg,lon_deg,cmd_deg,pa_deg,r,height_mm,sigma_deg,mood\n" +
		"a,sunspot,2026-03-14T09:00:00Z,10.5,359.9,,,,,0.5,x\n" +
		"b,comet,2026-03-14T09:00:00Z,10.5,359.9,,,,,,\n" + // line 3
		"c,plage,14.3.2026,10.5,359.9,,,,,,\n" +
		"d,plage,2026-03-14T09:00:00Z,95,359.9,,,,,,\n" +
		"e,plage,2026-03-14T09:00:00Z,10,,,,,,,\n" +
		"f,plage,2026-03-14T09:00:00Z,\"10,5\",20,,,,,,\n" +
		"g,plage,2026-03-14T09:00:00+01:00,10,20,,,,,,\n" +
		"h,plage,2026-03-14T09:00:00Z,10,20,,,,,0,\n" +
		"i,plage,2026-03-14T09:00:00Z,10,20\n" +
		"j,plage,1500-03-14T09:00:00Z,10,20,,,,,,\n" +
		"k,prominence,2026-03-14T09:00:00Z,,,,270,,30,,\n" +
		"l,prominence,2026-03-14 09:00,,,,90,1.05,,,\n" +
		"m,filament,2026-03-14T09:05:00Z,-20,,-33.5,,,,1,\n"
	k := keeper(t)
	done, err := k.ImportPositions(ctx, strings.NewReader(file), observe.ImportOptions{Source: "x.csv"})
	refused, ok := errors.AsType[*observe.BadRowsError](err)
	require.True(t, ok, "%v", err)
	assert.Equal(t, 9, refused.Imported.BadRows)
	assert.Equal(t, []string{"mood"}, done.Ignored)
	var said []string
	for _, bad := range done.Bad {
		said = append(said, bad.Error())
	}
	assert.Equal(t, []string{
		`line 3: kind "comet": want sunspot, plage, filament, prominence or other`,
		`line 4: utc "14.3.2026": want a date and time, as in 2026-03-14T09:12:05Z`,
		`line 5: latitude 95: want -90 to 90 degrees`,
		`line 6: a latitude without lon_deg or cmd_deg`,
		`line 7: lat_deg "10,5": want a decimal point`,
		`line 8: utc "2026-03-14T09:00:00+01:00": want a date and time, as in 2026-03-14T09:12:05Z`,
		`line 9: sigma_deg 0: want more than 0, or nothing`,
		`line 10: 5 columns, want 11`,
		`line 11: no ephemeris for the year 1500: it covers 1620 to 2200`,
	}, said)
	entries, err := k.Store.Read(ctx).Entries(store.Query{})
	require.NoError(t, err)
	assert.Empty(t, entries, "nothing is kept unless all of it can be")

	done, err = k.ImportPositions(ctx, strings.NewReader(file), observe.ImportOptions{DryRun: true, KeepGood: true})
	require.NoError(t, err)
	assert.Equal(t, 9, done.BadRows)
	assert.Zero(t, done.Kept)

	var rejects bytes.Buffer
	done, err = k.ImportPositions(ctx, strings.NewReader(file), observe.ImportOptions{Source: "x.csv", KeepGood: true, Rejects: &rejects})
	require.NoError(t, err)
	assert.Equal(t, 4, done.Kept)
	assert.Equal(t, 1+9, strings.Count(rejects.String(), "\n"))
	rows, err := csv.NewReader(strings.NewReader(rejects.String())).ReadAll()
	require.NoError(t, err, "each has as many columns")
	assert.Equal(t, "rejected_because", rows[0][len(rows[0])-1])
	for i, row := range rows[1:] {
		assert.Equal(t, said[i], row[len(row)-1], "and why it was refused")
	}
	assert.Equal(t, "b", rows[1][0])
	entries, err = k.Store.Read(ctx).Entries(store.Query{})
	require.NoError(t, err)
	require.Len(t, entries, 4)
	assert.Equal(t, "a", entries[0].Mark.Label)
	assert.InDelta(t, 359.9, entries[0].Position.Disc.L.Degrees(), 1e-9)
	assert.InDelta(t, 0.5, entries[0].Position.Disc.Cov.SigmaB().Degrees(), 1e-9)
	assert.InDelta(t, 30, entries[1].Position.Edge.HeightMm, 1e-6)
	assert.InDelta(t, 0.05*695.7, entries[2].Position.Edge.HeightMm, 0.01)
	assert.InDelta(t, -33.5, entries[3].Position.Disc.CMD.Degrees(), 1e-9)
	assert.Equal(t, entries[0].Frame.ID, entries[1].Frame.ID, "rows of one instant share a frame")
}

func TestAFileThatIsNoTableIsRefused(t *testing.T) {
	k := keeper(t)
	for file, said := range map[string]string{
		"":                                "empty file",
		"lat_deg,lon_deg\n1,2\n":          `no column "kind"`,
		"kind,utc,utc\n":                  `column "utc" is there twice`,
		"kind,utc,lat_deg,lon_deg\n\"x\n": "1 of 1 rows",
	} {
		_, err := k.ImportPositions(ctx, strings.NewReader(file), observe.ImportOptions{})
		assert.ErrorContains(t, err, said)
	}
	done, err := k.ImportPositions(ctx, strings.NewReader("kind;utc;lat_deg;lon_deg\nplage;2026-03-14T09:00:00Z;1;2\n"), observe.ImportOptions{})
	require.NoError(t, err)
	assert.Equal(t, 1, done.Kept, "a table with semicolons is read")
}

// One mark more in a large catalogue must not cost a walk through all of it.
func BenchmarkOneMarkMoreAmong100000(b *testing.B) {
	k := keeper(b)
	_, err := k.ImportPositions(ctx, strings.NewReader(manyRows(100_000)), observe.ImportOptions{})
	require.NoError(b, err)
	at := time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)
	for b.Loop() {
		_, _, err := k.AddMarksAt(ctx, observe.NewInstant{UTC: at}, []catalog.Mark{placeMark(catalog.Sunspot, 10, 20)})
		require.NoError(b, err)
	}
}

// The same file imported again keeps nothing twice, and says so.
func TestRowsThatAreThereAlreadyAreNotKeptAgain(t *testing.T) {
	k := openKeeper(t)
	first, err := k.ImportPositions(ctx, strings.NewReader(sixDays()), observe.ImportOptions{})
	require.NoError(t, err)
	assert.Zero(t, first.TwiceRows)
	more := sixDays() + "sunspot,2026-03-11T12:00:00Z,31,150,d,0.3\nplage,2026-03-12T12:00:00Z,30,150,c,0.3\n"
	dry, err := k.ImportPositions(ctx, strings.NewReader(more), observe.ImportOptions{DryRun: true})
	require.NoError(t, err)
	assert.Equal(t, 13, dry.TwiceRows, "another place and another kind are new")
	again, err := k.ImportPositions(ctx, strings.NewReader(more), observe.ImportOptions{})
	require.NoError(t, err)
	assert.Equal(t, 13, again.TwiceRows)
	assert.Equal(t, "line 2: M1", again.Twice[0].String())
	assert.Equal(t, 2, again.Kept)
	told, err := k.ImportPositions(ctx, strings.NewReader(more), observe.ImportOptions{Again: true})
	require.NoError(t, err)
	assert.Equal(t, 15, told.TwiceRows)
	assert.Equal(t, 15, told.Kept, "it is for the observer to say")
}

// True twins exist: tables in whole degrees hold two groups of one place and day. A row is
// kept as often as it stands in the file, less what stands here already, however the file
// is written: to other digits, whole turns on, in another order.
func TestTwinsAreCountedByHowOftenTheyStand(t *testing.T) {
	const header = "kind,utc,lat_deg,cmd_deg,pa_deg,r\n"
	const spot, same, polar, turned = "sunspot,2026-03-11T12:00:00Z,10,-20,,\n", "sunspot,2026-03-11T12:00:00.0004Z,10.0,-20.0,,\n",
		"prominence,2026-03-11T12:00:00Z,,,-15,1.04\n", "prominence,2026-03-11T12:00:00Z,,,345,1.0400\n"
	k := openKeeper(t)
	for _, step := range []struct {
		file        string
		kept, twice int
	}{
		{spot + spot + polar, 3, 0},
		{turned + same + spot, 0, 3},
		{spot + same + polar + spot + turned, 2, 3},
		{spot + spot + spot + polar + polar, 0, 5},
	} {
		done, err := k.ImportPositions(ctx, strings.NewReader(header+step.file), observe.ImportOptions{})
		require.NoError(t, err)
		assert.Equal(t, step.kept, done.Kept, step.file)
		assert.Equal(t, step.twice, done.TwiceRows, step.file)
	}
}
