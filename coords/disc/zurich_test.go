package disc_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/rotation"
	"limbwatch/testdata"
)

// Prominences of the Zurich observatory, 1899 and 1900 (Wolfer; digitised by
// Illarionov & Arlt 2022): each has its latitude, its limb, and a rotating
// longitude that the README turns into Carrington's, to a median of 0.9° (2.7° for
// 95 %). They were seen in the European forenoon to noon, which is 1.5° of
// longitude either way. The limb at their latitude must stand there.
func TestLimbLongitudesOfZurichProminences(t *testing.T) {
	rows := testdata.Table(t, testdata.Shared(t, "data", "zurich-1899-1902", "zurich-1899-1900.csv"))
	var off, offAt90 []float64
	for _, row := range rows {
		sure := row["Object"] == "Prominence"
		for _, n := range []string{"2", "4", "6"} {
			sure = sure && row["Confidence_"+n] == "1.0" && row["Column_"+n] != ""
		}
		if !sure {
			continue
		}
		day, err := time.Parse("2006-01-02", row["Date"])
		require.NoError(t, err)
		at := day.Add(10 * time.Hour)
		lat, ecliptic, sporer := number(t, row["Column_4"]), number(t, row["Column_2"]), number(t, row["Column_6"])
		if math.Abs(lat) > 60 || math.Abs(lat) < 25 || math.Abs(ecliptic) < 85 {
			continue // near the poles a longitude says little, near the equator both ways agree
		}
		f := ephemeris.At(at)
		carrington := sporer - 219.85 + 0.08232*(ephemeris.JulianDay(at)-2414655.5)
		cmd, crosses := rotation.EdgeCMD(deg(lat), f)
		require.True(t, crosses)
		side := coords.Angle(1)
		if ecliptic > 0 { // east positive in this catalogue
			side = -1
		}
		off = append(off, math.Abs(apart(f.L0+side*cmd, carrington)))
		offAt90 = append(offAt90, math.Abs(apart(f.L0+side*90*coords.Degree, carrington)))
	}
	t.Logf("%d prominences between latitude 25 and 60: limb longitude off by a median of %.2f, 90 %% %.2f deg; with 90° for the limb %.2f, %.2f",
		len(off), share(off, 0.5), share(off, 0.9), share(offAt90, 0.5), share(offAt90, 0.9))
	assert.Greater(t, len(off), 300)
	assert.LessOrEqual(t, share(off, 0.5), 1.5)
	assert.LessOrEqual(t, share(off, 0.9), 4.0)
	assert.Greater(t, share(offAt90, 0.9), share(off, 0.9)+0.5, "the data can tell the limb from 90°")
}
