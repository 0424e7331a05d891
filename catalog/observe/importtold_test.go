package observe_test

import (
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/testdata"
)

// tableOf writes the groups of a yearly file of the observatories as a stranger would:
// utc gives the time of a row by its day and the fraction of it that is printed.
func tableOf(t *testing.T, file string, month string, utc func(day, fraction string) string) (csv string, rows int) {
	t.Helper()
	folder := testdata.Shared(t, "data", "rgo-noaa-groups")
	text, err := os.ReadFile(folder + "/" + file)
	require.NoError(t, err)
	var b strings.Builder
	b.WriteString("kind,utc,lat_deg,lon_deg,cmd_deg,label,area_msh\n")
	for _, line := range strings.Split(string(text), "\n") {
		line = strings.TrimRight(line, "\r")
		if len(line) < 74 || strings.Trim(line[45:74], " 0.") == "" { // a day without spots
			continue
		}
		day := strings.ReplaceAll(fmt.Sprintf("%s-%s-%s", line[0:4], line[4:6], line[6:8]), " ", "0")
		if !strings.HasPrefix(day, month) {
			continue
		}
		cell := func(from, to int) string { return strings.TrimSpace(line[from-1 : to]) }
		fmt.Fprintf(&b, "sunspot,%s,%s,%s,%s,%s,%s\n", utc(day, strings.ReplaceAll(line[8:12], " ", "0")), cell(64, 68), cell(58, 62), cell(70, 74), cell(13, 22), cell(41, 44))
		rows++
	}
	return b.String(), rows
}

// asPrinted is the time of day as the tables print it, a thousandth of a day.
func asPrinted(day, fraction string) string {
	f, err := strconv.ParseFloat("0"+fraction, 64)
	if err != nil {
		panic(err)
	}
	s := int(f*86400 + 0.5)
	return fmt.Sprintf("%sT%02d:%02d:%02dZ", day, s/3600, s/60%60, s%60)
}

// The tables say themselves which rows are wrong: L0 + CMD = L. Of 1905 their description
// names 45 rows with a wrong time of day, some 11° off; of 1937 none.
func TestLongitudesThatContradictThemselvesAreTold(t *testing.T) {
	for _, c := range []struct {
		file        string
		rows        int
		told        [2]int // at least, at most
		commonHours string
	}{
		{"g1937.txt", 3705, [2]int{0, 6}, ""},                     // "none in 1937"
		{"g1905.txt", 1937, [2]int{45, 50}, ""},                   // "45 rows of 1905"
		{"g1957.txt", 4855, [2]int{12, 14}, ""},                   // "12 of 1957"
		{"g1964.txt", 390, [2]int{1, 3}, ""},                      // "1 of 1964"
		{"g1981.txt", 3920, [2]int{58, 60}, ""},                   // "59 rows off by more than 1.6 deg"
		{"g2000.txt", 3590, [2]int{3400, 3590}, "13 hours later"}, // all rows say 12 h and are of 24 h
	} {
		t.Run(c.file, func(t *testing.T) {
			csv, rows := tableOf(t, c.file, "", asPrinted)
			require.Equal(t, c.rows, rows)
			k := keeper(t)
			done, err := k.ImportPositions(ctx, strings.NewReader(csv), observe.ImportOptions{DryRun: true})
			require.NoError(t, err)
			contradicting := 0
			for _, told := range done.Told {
				if strings.Contains(told.What, "contradict") {
					contradicting++
				}
			}
			if done.ToldRows > observe.MaxBadRows {
				contradicting = done.ToldRows
			}
			assert.GreaterOrEqual(t, contradicting, c.told[0])
			assert.LessOrEqual(t, contradicting, c.told[1])
			if c.commonHours == "" {
				assert.Empty(t, done.Common)
			} else {
				assert.Contains(t, done.Common, c.commonHours)
			}
		})
	}
}

// Read at the end of their day the same rows agree to their whole degrees, but for NOAA's
// own slips (44 of 2000 by more than 1.6°, says their description), and those that had
// been carried over the limb are told and kept: 63 of them are 90° and more from the
// meridian.
func TestATableCarriedToTheEndOfTheDay(t *testing.T) {
	csv, rows := tableOf(t, "g2000.txt", "", func(day, _ string) string { return day + "T24:00:00Z" })
	k := keeper(t)
	done, err := k.ImportPositions(ctx, strings.NewReader(csv), observe.ImportOptions{Extent: catalog.SpotGroup})
	require.NoError(t, err)
	assert.Equal(t, rows, done.Kept)
	assert.Empty(t, done.Common)
	hidden, contradicting := 0, 0
	for _, told := range done.Told {
		if strings.Contains(told.What, "behind the Sun") {
			hidden++
		} else {
			contradicting++
		}
	}
	assert.InDelta(t, 55, hidden, 10, "with B0 up to 7° some of the 63 are seen")
	assert.Greater(t, contradicting, 44)
	assert.Less(t, contradicting, rows/8, "the rest is off by one degree and a little")
}

// By the digits as printed: whole degrees may differ by one, tenths by a tenth, and a
// twentieth is left for L0 of other elements.
func TestAContradictionIsByTheDigitsPrinted(t *testing.T) {
	k := keeper(t)
	l0 := observe.Derive(catalog.Bearings{Frame: catalog.Frame{Taken: march}}, []catalog.Mark{placeMark(catalog.Sunspot, 0, 0)})[0]
	lonOf := func(cmd float64) float64 { return cmd - l0.Disc.CMD.Degrees() } // placeMark lies at longitude 0
	for _, c := range []struct {
		format string
		off    float64
		isTold bool
	}{
		{"%.0f", 0.4, false}, {"%.0f", 1.7, true}, {"%.1f", 0.04, false}, {"%.1f", 0.7, true}, {"%.3f", 0.03, false}, {"%.3f", 0.07, true},
	} {
		cmd, err := strconv.ParseFloat(fmt.Sprintf(c.format, -12.346), 64)
		require.NoError(t, err)
		row := fmt.Sprintf("kind,utc,lat_deg,lon_deg,cmd_deg\nsunspot,%s,10,"+c.format+","+c.format+"\n",
			march.Format("2006-01-02T15:04:05Z"), degreesOfTurn(lonOf(cmd)+c.off), cmd)
		done, err := k.ImportPositions(ctx, strings.NewReader(row), observe.ImportOptions{DryRun: true})
		require.NoError(t, err)
		assert.Equal(t, c.isTold, done.ToldRows == 1, "%s: %+.2f° off", row, c.off)
	}
}

func degreesOfTurn(v float64) float64 {
	for v < 0 {
		v += 360
	}
	for v >= 360 {
		v -= 360
	}
	return v
}

// One rule for what can hardly be meant, however it is given, and one for places behind
// the Sun, which are told and kept.
func TestSlipsOfFiguresAreRefusedHoweverGiven(t *testing.T) {
	k := keeper(t)
	place := func(kind catalog.Kind, b, cmd, sigma float64) catalog.Mark {
		m := placeMark(kind, b, cmd)
		m.Geometry.Places[0].ByCMD, m.Geometry.SigmaPlace = true, deg(sigma)
		return m
	}
	polar := func(kind catalog.Kind, r, sigma float64) catalog.Mark {
		return catalog.Mark{Kind: kind, Geometry: catalog.Geometry{Shape: catalog.Point, SigmaR: sigma, Polar: []catalog.PolarPoint{{PA: deg(75), R: r}}}}
	}
	for name, c := range map[string]struct {
		mark catalog.Mark
		row  string // without kind and utc: lat_deg, cmd_deg, sigma_deg, pa_deg, r, sigma_r
		says string
	}{
		"a prominence in the middle of the disc":   {place(catalog.Prominence, 8, -14, 1), "8,-14,1,,,", "on the disc it is a filament"},
		"one by angle":                             {polar(catalog.Prominence, 0.5, 0), ",,,75,0.5,", "on the disc it is a filament"},
		"a sunspot far off the disc":               {polar(catalog.Sunspot, 1.5, 0), ",,,75,1.5,", "none is seen off the disc"},
		"plage off the disc":                       {polar(catalog.Plage, 1.1, 0.01), ",,,75,1.1,0.01", "none is seen off the disc"},
		"nothing is so far out":                    {polar(catalog.Other, 3, 0), ",,,75,3,", "nothing is seen beyond 2.5"},
		"a sunspot at the limb":                    {polar(catalog.Sunspot, 1.004, 0), ",,,75,1.004,", ""},
		"a sunspot off the limb, within the error": {polar(catalog.Sunspot, 1.03, 0.01), ",,,75,1.03,0.01", ""},
		"a prominence just inside":                 {polar(catalog.Prominence, 0.998, 0), ",,,75,0.998,", ""},
		"a prominence inside, within the error":    {polar(catalog.Prominence, 0.98, 0.01), ",,,75,0.98,0.01", ""},
		"a prominence by the place of its foot":    {place(catalog.Prominence, 8, -87, 1), "8,-87,1,,,", ""},
		"a filament beyond the limb":               {polar(catalog.Filament, 1.05, 0), ",,,75,1.05,", ""},
		"a sunspot behind the Sun, which is told":  {place(catalog.Sunspot, 8, 140, 1), "8,140,1,,,", ""},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := k.AddMarksAt(ctx, observe.NewInstant{UTC: march}, []catalog.Mark{c.mark})
			file := "kind,utc,lat_deg,cmd_deg,sigma_deg,pa_deg,r,sigma_r\n" + c.mark.Kind.String() + "," + march.Format("2006-01-02T15:04:05Z") + "," + c.row + "\n"
			done, ierr := k.ImportPositions(ctx, strings.NewReader(file), observe.ImportOptions{Again: true})
			if c.says == "" {
				require.NoError(t, err)
				require.NoError(t, ierr)
				assert.Equal(t, 1, done.Kept)
				return
			}
			require.ErrorContains(t, err, c.says)
			_, isOdd := errors.AsType[*observe.ImplausibleError](err)
			assert.True(t, isOdd)
			require.ErrorContains(t, ierr, c.says)
			forced := k
			forced.Force = true
			_, _, err = forced.AddMarksAt(ctx, observe.NewInstant{UTC: march}, []catalog.Mark{c.mark})
			require.NoError(t, err)
			done, err = forced.ImportPositions(ctx, strings.NewReader(file), observe.ImportOptions{Again: true})
			require.NoError(t, err)
			assert.Equal(t, 1, done.Kept)
		})
	}
}

// By kind and by the limb plus three errors: spots end at the limb, a filament 26 ± 10 Mm
// high is seen as far as arccos(R/(R + 56 Mm)) = 22° beyond it.
func TestWhatLiesBehindTheSunIsToldByKind(t *testing.T) {
	for _, c := range []struct {
		kind       catalog.Kind
		cmd, sigma float64
		hidden     bool
	}{
		{catalog.Sunspot, 89, 0, false}, {catalog.Sunspot, 94, 0, true}, {catalog.Sunspot, 94, 1.5, false}, {catalog.Sunspot, 96, 1.5, true},
		{catalog.Plage, 95, 0, false}, {catalog.Plage, 100, 0, true}, // 5 Mm: 6.9°
		{catalog.Filament, 110, 0, false}, {catalog.Filament, 114, 0, true}, {catalog.Filament, 114, 1, false}, {catalog.Prominence, 105, 0, false},
		{catalog.Other, 94, 0, true}, {catalog.Filament, 180, 1, true},
	} {
		m := placeMark(c.kind, 0, c.cmd)
		m.Geometry.Places[0].ByCMD, m.Geometry.SigmaPlace = true, deg(c.sigma)
		p := observe.Derive(catalog.Bearings{Frame: catalog.Frame{Taken: march}}, []catalog.Mark{m})[0]
		assert.Equal(t, c.hidden, observe.Hidden(m, p) > 0, "%s at %g° ± %g°", c.kind, c.cmd, c.sigma)
	}
}

// A record is one more way in: what cannot be meant makes it refused, and kept when it is
// meant; what lay behind the Sun is told. What stood here before is not judged again.
func TestSlipsInARecordAreRefused(t *testing.T) {
	from, to := keeper(t), keeper(t)
	from.Force = true
	polar := func(kind catalog.Kind, r float64) catalog.Mark {
		return catalog.Mark{Kind: kind, Geometry: catalog.Geometry{Shape: catalog.Point, Polar: []catalog.PolarPoint{{PA: deg(75), R: r}}}}
	}
	seen, behind := placeMark(catalog.Sunspot, 8, 14), placeMark(catalog.Sunspot, 8, 140)
	seen.Geometry.Places[0].ByCMD, behind.Geometry.Places[0].ByCMD = true, true
	_, marks, err := from.AddMarksAt(ctx, observe.NewInstant{UTC: march}, []catalog.Mark{seen, behind})
	require.NoError(t, err)
	r := whole(t, from)
	done, err := to.ImportRecord(ctx, r, observe.MergeOptions{})
	require.NoError(t, err)
	require.Len(t, done.Hidden, 1)
	assert.Equal(t, marks[1].UUID, done.Hidden[0].UUID)
	// sin 8° sin B0 + cos 8° cos B0 cos 140° with B0 = -7.2° of 14 March (Meeus ch. 29) is
	// -sin 50.35°, and the line of sight slants by sin 39.65° of the semidiameter, 0.17°.
	assert.Contains(t, done.Hidden[0].String(), "it lay behind the Sun at that time, 50.5° beyond the limb")

	_, _, err = from.AddMarksAt(ctx, observe.NewInstant{UTC: march.AddDate(0, 0, 1)}, []catalog.Mark{
		polar(catalog.Prominence, 0.5), polar(catalog.Sunspot, 1.5), polar(catalog.Prominence, 1.05)})
	require.NoError(t, err)
	r = whole(t, from)
	dry, err := to.ImportRecord(ctx, r, observe.MergeOptions{DryRun: true})
	require.NoError(t, err)
	require.Len(t, dry.Slips, 2)
	_, err = to.ImportRecord(ctx, r, observe.MergeOptions{})
	slips, isSlips := errors.AsType[*observe.SlipsError](err)
	require.True(t, isSlips, "%v", err)
	assert.Equal(t, dry.Slips, slips.Merged.Slips)
	assert.Contains(t, dry.Slips[0].What+dry.Slips[1].What, "lies inside the limb")
	assert.Contains(t, dry.Slips[0].What+dry.Slips[1].What, "none is seen off the disc")
	assert.Len(t, whole(t, to).Marks, 2, "nothing was kept")

	forced := to
	forced.Force = true
	_, err = forced.ImportRecord(ctx, r, observe.MergeOptions{})
	require.NoError(t, err)
	assert.Len(t, whole(t, to).Marks, 5)
	again, err := to.ImportRecord(ctx, r, observe.MergeOptions{})
	require.NoError(t, err, "it stands here already")
	assert.Empty(t, again.Hidden)

	// A kind that is changed there becomes a slip here.
	for i := range r.Marks {
		r.Marks[i].Kind, r.Marks[i].Extent, r.Marks[i].Spots = catalog.Prominence, 0, 0
	}
	_, err = to.ImportRecord(ctx, r, observe.MergeOptions{Prefer: observe.PreferTheirs})
	require.ErrorContains(t, err, "lies inside the limb")
}

// A program that lost its scale writes all that it found into the middle of the disc: rows
// that are one another's twins are told, in whatever order they stand.
func TestTwinsInAFileAreTold(t *testing.T) {
	const a, b = "filament,2002-04-30T16:55:55Z,-4.2,302.0\n", "filament,2002-04-30T16:55:55Z,-4.3,302.0\n"
	done, err := openKeeper(t).ImportPositions(ctx, strings.NewReader("kind,utc,lat_deg,lon_deg\n"+a+b+a+"filament,2002-04-29T16:55:55Z,-4.2,302.0\n"+a), observe.ImportOptions{})
	require.NoError(t, err)
	assert.Equal(t, 5, done.Kept, "true twins exist")
	require.Len(t, done.Told, 2)
	assert.Equal(t, "line 4: the same kind, time and place as in line 2: both are kept", done.Told[0].String())
	assert.Equal(t, 6, done.Told[1].Line)
}

// Greenwich measured r 0.407 and 42.7° from the Sun's north on 24 June 1916 (group 7752,
// N19.5 E17.0 in its Results), when P is -5.8° (Meeus ch. 29): celestial 36.9°. The angle
// from the Sun's north taken for the celestial one, or west for east, is told.
func TestAnAngleBesideAPlaceThatContradictsItIsTold(t *testing.T) {
	for _, c := range []struct {
		angle string
		told  int
	}{{"36.9,0.407", 0}, {"-323.1,0.41", 0}, {"42.7,0.407", 1}, {"323.1,0.407", 1}, {"36.9,0.704", 1}, {"36.9,", 0}, {"75,1.03", 0}} {
		row := "kind,utc,lat_deg,cmd_deg,pa_deg,r\nsunspot,1916-06-24T11:38:24Z,19.5,-17.0," + c.angle + "\n"
		done, err := openKeeper(t).ImportPositions(ctx, strings.NewReader(row), observe.ImportOptions{})
		require.NoError(t, err)
		assert.Equal(t, 1, done.Kept)
		assert.Equal(t, c.told, done.ToldRows, "%s: %v", c.angle, done.Told)
	}
}
