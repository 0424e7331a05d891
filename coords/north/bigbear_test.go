package north_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/north"
	"limbwatch/testdata"
)

// A list of filaments as an observatory publishes it, pixels and places: Hazra et
// al. 2018 after Bernasconi, Rust & Hakim 2005. The pictures were turned to solar
// north; here they are turned and mirrored at random, clicked to 4 px, and only
// the places are used.
func TestNorthFromAPublishedFilamentList(t *testing.T) {
	folder := testdata.Shared(t, "data", "bbso-filaments")
	files, err := filepath.Glob(filepath.Join(folder, "AUTOMATIC_*.tab"))
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(12, 12))
	const clickPx = 4
	days, answered, wrong, far, undecided := 0, 0, 0, 0, 0
	var pulls float64
	for _, path := range files {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		for _, block := range strings.Split(string(text), "Ha Filament statistics for:")[1:] {
			_, date, _ := strings.Cut(block, "Date : ")
			at, err := time.Parse("20060102_150405", strings.Fields(date)[0])
			require.NoError(t, err)
			face := ephemeris.At(at)
			truth := coords.North{Angle: deg(360*rng.Float64() - 180), Mirrored: rng.IntN(2) == 0}
			v := disc.View{Limb: coords.Limb{RadiusPx: 970}, Face: face}
			var marks []north.Feature
			for _, line := range strings.Split(block, "\n") {
				fields := strings.Fields(line)
				if len(fields) < 7 {
					continue
				}
				if _, err := strconv.Atoi(fields[0]); err != nil {
					continue
				}
				var x, y, lat, long float64
				_, err := fmt.Sscan(strings.Join(fields[3:7], " "), &x, &y, &lat, &long)
				require.NoError(t, err)
				// Solar west x, north y: position angle from celestial north.
				pa := face.P + coords.Atan2(-x, y)
				right, down := truth.Direction(pa)
				r := math.Hypot(x, y)
				s := deg(0.5).Radians()
				marks = append(marks, north.Feature{
					Pixel:   coords.Pixel{X: r*right + clickPx*rng.NormFloat64(), Y: r*down + clickPx*rng.NormFloat64()},
					SigmaPx: clickPx,
					Place: coords.Measured{
						Heliographic: coords.Heliographic{B: deg(lat), L: (face.L0 + deg(long)).Wrap360()},
						Cov:          coords.Covariance{BB: s * s, LL: s * s},
					},
				})
			}
			if len(marks) < 3 {
				continue
			}
			marks = marks[:min(len(marks), 8)]
			days++
			found, err := north.FromFeatures(v, marks, north.Either)
			if err != nil {
				undecided++
				continue
			}
			answered++
			if found.Mirrored != truth.Mirrored {
				wrong++
				continue
			}
			off := math.Abs(apart(found.Angle, truth.Angle))
			pulls += math.Pow(off/found.Sigma.Degrees(), 2)
			if off > 1 {
				far++
			}
		}
	}
	t.Logf("%d days: %d answered, %d with the wrong parity, %d more than 1 deg off, %d undecided; pulls %.2f", days, answered, wrong, far, undecided, math.Sqrt(pulls/float64(answered)))
	assert.Greater(t, days, 50)
	assert.Greater(t, answered, days*9/10)
	assert.Zero(t, wrong)
	assert.Zero(t, far)
}
