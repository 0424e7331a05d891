//go:build look

package chart

import (
	"bufio"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/picture"
	"limbwatch/testdata"
)

// Eight days of white light from a spacecraft, woven: courtesy of NASA/SDO and the HMI
// science team. A spot keeps its place from day to day.
func TestLookWovenSpacecraft(t *testing.T) {
	in := MapInput{Woven: true, Looks: spacecraftDays(t)}
	in.Rotation = int(ephemeris.Rotation(in.Looks[0].UTC))
	save(t, "real-woven", func(o Options) (*canvas.Canvas, error) { return Map(in, o) })
	in.Rotation++
	save(t, "real-woven2", func(o Options) (*canvas.Canvas, error) { return Map(in, o) })
}

// Big Bear's picture of 30 April 2002 (courtesy of the Big Bear Solar Observatory, New
// Jersey Institute of Technology) with Meudon's filaments of the day after.
func TestLookFilaments(t *testing.T) {
	utc := time.Date(2002, 4, 30, 16, 55, 55, 0, time.UTC)
	p, _, err := picture.Open(testdata.Shared(t, "data", "bbso-halpha-2002", "bbso_halpha_20020430_165555_cleaned.fits"), picture.Options{})
	require.NoError(t, err)
	in := DiscInput{Picture: p, View: solarUp(utc, 511.5, 511.5, 420), UTC: utc, Heading: "Big Bear; places from Meudon, 1 May, not turned back"}
	file, err := os.Open(testdata.Shared(t, "data", "meudon-filaments-2002", "meudon-2002-04-12_05-03.fil"))
	require.NoError(t, err)
	defer file.Close()
	lines := bufio.NewScanner(file)
	for n := 0; lines.Scan(); {
		var jd, lon, lat float64
		var id int
		text := strings.NewReplacer("/", " ").Replace(lines.Text())
		if c, _ := fmt.Sscan(text, &jd, &id, &lon, &lat); c < 4 || jd < 2452395.8 || jd > 2452396 {
			continue
		}
		n++
		in.Entries = append(in.Entries, catalog.Entry{Mark: catalog.Mark{ID: catalog.MarkID(n), Kind: catalog.Filament, Geometry: catalog.Geometry{
			Shape: catalog.Point, Places: []catalog.PlacePoint{{B: coords.Angle(lat) * coords.Degree, Lon: coords.Angle(lon) * coords.Degree}},
		}}})
	}
	require.NotEmpty(t, in.Entries)
	save(t, "real-disc", func(o Options) (*canvas.Canvas, error) { return Disc(in, o) })
	small := in
	small.Entries = in.Entries[:20]
	save(t, "real-disc-phone", func(o Options) (*canvas.Canvas, error) { o.Width = 390; o.Density = 3; return Disc(small, o) })
}
