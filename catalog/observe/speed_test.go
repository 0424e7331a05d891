package observe_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/coords/ephemeris"
)

// spotRecord writes an invented record of daily sunspot groups, one a day at noon:
// they are born at random in the two belts, live ten days on the average, turn by
// 14.38 − 2.7 sin² B degrees a day (Beck 2000), are placed to 0.3° and are missed one
// time in twenty. The mean number in view is inView.
func spotRecord(to io.Writer, r *rand.Rand, first time.Time, days int, inView float64) {
	const lifeDays, edgeDeg = 10.0, 80.0
	type group struct{ lat, lon, rate float64 }
	var live []group
	alive := inView * 360 / (2 * edgeDeg)
	birth := func() group {
		lat := math.Copysign(5+25*r.Float64(), r.Float64()-0.5)
		sin := math.Sin(lat * math.Pi / 180)
		return group{lat, 360 * r.Float64(), 14.38 - 2.7*sin*sin - 14.1844 + 0.1*r.NormFloat64()}
	}
	fmt.Fprintln(to, "kind,utc,lat_deg,lon_deg,sigma_deg")
	for day := range days {
		at := first.AddDate(0, 0, day)
		l0 := ephemeris.At(at).L0.Degrees()
		kept := live[:0]
		for _, g := range live {
			if r.Float64() > 1/lifeDays {
				g.lon += g.rate
				kept = append(kept, g)
			}
		}
		live = kept
		for born := alive / lifeDays; born > 0; born-- {
			if born >= 1 || r.Float64() < born {
				live = append(live, birth())
			}
		}
		for _, g := range live {
			cmd := math.Remainder(g.lon-l0, 360)
			if math.Abs(cmd) < edgeDeg && r.Float64() > 0.05 {
				fmt.Fprintf(to, "sunspot,%s,%.2f,%.2f,0.3\n", at.Format(time.RFC3339),
					g.lat+0.3*r.NormFloat64(), math.Mod(g.lon+0.3*r.NormFloat64()+720, 360))
			}
		}
	}
}

// halfCentury is fifty years of daily groups, over 100 000 of them.
func halfCentury() []byte {
	var csv bytes.Buffer
	spotRecord(&csv, rand.New(rand.NewPCG(50, 1)), time.Date(1956, 1, 1, 12, 0, 0, 0, time.UTC), 50*365, 6)
	return csv.Bytes()
}

func benchKeeper(b *testing.B, name string) observe.Keeper {
	b.Helper()
	k, err := observe.Open(context.Background(), filepath.Join(b.TempDir(), name), catalog.Terminal, time.Now)
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, k.Close()) })
	return k
}

func BenchmarkImportHalfCentury(b *testing.B) {
	csv := halfCentury()
	for n := 0; b.Loop(); n++ {
		done, err := benchKeeper(b, fmt.Sprintf("%d.db", n)).ImportPositions(context.Background(), bytes.NewReader(csv), observe.ImportOptions{})
		require.NoError(b, err)
		b.ReportMetric(float64(done.Kept), "marks")
	}
}

// BenchmarkFollowHalfCentury follows it through the catalogue for the first time:
// wanted are 5 s on one core (GOMAXPROCS=1).
func BenchmarkFollowHalfCentury(b *testing.B) {
	csv := halfCentury()
	for n := 0; b.Loop(); n++ {
		b.StopTimer()
		k := benchKeeper(b, fmt.Sprintf("%d.db", n))
		_, err := k.ImportPositions(context.Background(), bytes.NewReader(csv), observe.ImportOptions{})
		require.NoError(b, err)
		b.StartTimer()
		done, err := k.TrackFollow(context.Background(), observe.FollowOptions{})
		require.NoError(b, err)
		b.ReportMetric(float64(done.Marks), "marks")
	}
}

// BenchmarkFollowOneDayMore adds a day that was left out, and follows what is new: 20 ms
// are wanted.
func BenchmarkFollowOneDayMore(b *testing.B) {
	ctx := context.Background()
	k := benchKeeper(b, "c.db")
	var most bytes.Buffer
	var days []string // of every thirtieth, with the header
	lines := strings.SplitAfter(string(halfCentury()), "\n")
	for i, line := range lines {
		at, err := time.Parse(time.RFC3339, strings.Split(line+",,", ",")[1])
		switch {
		case err != nil || at.YearDay()%30 != 0:
			most.WriteString(line)
		case strings.Split(lines[i-1], ",")[1] != strings.Split(line, ",")[1]:
			days = append(days, lines[0]+line)
		default:
			days[len(days)-1] += line
		}
	}
	_, err := k.ImportPositions(ctx, &most, observe.ImportOptions{})
	require.NoError(b, err)
	_, err = k.TrackFollow(ctx, observe.FollowOptions{})
	require.NoError(b, err)
	read := 0
	for n := 0; b.Loop(); n++ {
		_, err := k.ImportPositions(ctx, strings.NewReader(days[n%len(days)]), observe.ImportOptions{})
		require.NoError(b, err)
		done, err := k.TrackFollow(ctx, observe.FollowOptions{})
		require.NoError(b, err)
		read += done.Marks
	}
	b.ReportMetric(float64(read)/float64(b.N), "marks/op")
}
