package main

import (
	"fmt"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/testdata"
)

// headerSpots reads sunpy-test/hmi_spots.csv: pixels, and the places that SunPy gives
// by the picture's header.
func headerSpots(t *testing.T, folder string) (spots []map[string]float64) {
	t.Helper()
	for _, row := range testdata.Table(t, filepath.Join(folder, "hmi_spots.csv")) {
		spot := map[string]float64{}
		for name := range row {
			spot[name] = row.Number(t, name)
		}
		spots = append(spots, spot)
	}
	return spots
}

func TestARealPictureFromItsFileToItsPlaces(t *testing.T) {
	folder := testdata.Shared(t, "data", "sunpy-test")
	spots := headerSpots(t, folder)
	for _, c := range []struct {
		name    string
		picture string
		add     []string
		north   []string
		// The FITS has its disc in the header, so the list's own rounding is left: 0.06°,
		// with the observer's orbit and the header's radius some 0.2. In the PNG the limb is
		// found: the folder's README says that the header's centre is 0.3 px off it, and a
		// pixel is 1.2° in the middle and twice that at 57° from it.
		allowedDeg float64
	}{
		{"by its header", "resampled_hmi.fits", nil, nil, 0.2},
		{"by its limb, upside down", "hmi_continuum_100.png", []string{"--at", "2014-03-01T00:00:27Z", "--limb", "photosphere"},
			[]string{"--solar-north", "-179.93", "--sigma-north-deg", "0.3"}, 1.2},
	} {
		t.Run(c.name, func(t *testing.T) {
			newCatalogue(t)
			done(t, append([]string{"frame", "add", filepath.Join(folder, c.picture)}, c.add...)...)
			if c.north != nil {
				done(t, append([]string{"north", "set", "F1"}, c.north...)...)
			}
			for _, i := range []int{0, 3, 4} {
				s := spots[i]
				row := asJSON[object](t, "mark", "add", "sunspot", "--frame", "F1", "--point", fmt.Sprintf("%g,%g", s["x"], s["y"]))
				assert.InDelta(t, s["lat_deg"], row.number(t, "lat_deg"), c.allowedDeg, "latitude of spot %d", i)
				assert.InDelta(t, s["lon_stonyhurst_deg"], row.number(t, "cmd_deg"), c.allowedDeg, "distance from the meridian of spot %d", i)
				assert.InDelta(t, s["lon_carrington_deg"], row.number(t, "lon_deg"), c.allowedDeg+0.1, "longitude of spot %d: the list's L0 has another convention of some 0.05°", i)
			}
			assert.Len(t, asJSON[[]object](t, "log"), 3)
		})
	}
}

func TestARealSpotKeepsItsPlace(t *testing.T) {
	folder := testdata.Shared(t, "data", "hmi-continuum-daily")
	newCatalogue(t)
	done(t, "instrument", "add", "white light", "--wavelength", "6173", "--passband", "1000", "--surface-limb", "photosphere")
	// Pixels of the big southern spot and its worked places: the folder's README, whose
	// own disc was fitted by hand to a tenth of a pixel.
	for i, spot := range []struct {
		picture, at, point string
		lat, cmd, lon      float64
	}{
		{"20240701_0000_hmiigr_512.jpg", "2024-07-01T00:00:00Z", "276.1,338.8", -17.7, 5.2, 350.7},
		{"20240702_0000_hmiigr_512.jpg", "2024-07-02T00:00:00Z", "325.7,339.1", -17.9, 18.2, 350.5},
		{"20240703_0000_hmiigr_512.jpg", "2024-07-03T00:00:00Z", "371.6,338.7", -18.0, 31.3, 350.3},
	} {
		frame := fmt.Sprintf("F%d", i+1)
		done(t, "frame", "add", filepath.Join(folder, spot.picture), "--at", spot.at, "--role", "surface")
		done(t, "north", "set", frame, "--solar-north", "0", "--sigma-north-deg", "0.3")
		row := asJSON[object](t, "mark", "add", "sunspot", "--frame", frame, "--point", spot.point)
		assert.InDelta(t, spot.lat, row.number(t, "lat_deg"), 0.3, spot.at)
		assert.InDelta(t, spot.cmd, row.number(t, "cmd_deg"), 0.3, spot.at)
		assert.InDelta(t, spot.lon, row.number(t, "lon_deg"), 0.3, spot.at)
	}
	rows := asJSON[[]object](t, "log")
	for _, row := range rows[1:] {
		assert.InDelta(t, rows[0].number(t, "lat_deg"), row.number(t, "lat_deg"), 4*(rows[0].number(t, "sigma_lat_deg")+row.number(t, "sigma_lat_deg")))
		assert.InDelta(t, rows[0].number(t, "lon_deg"), row.number(t, "lon_deg"), 1, "a spot at 18° drifts by less than 0.2° a day")
	}
	done(t, "track", "follow")
	passages := asJSON[[]object](t, "track", "list")
	require.Len(t, passages, 1, "one spot is one passage")
	assert.InDelta(t, 3, passages[0].number(t, "marks"), 0)
}
