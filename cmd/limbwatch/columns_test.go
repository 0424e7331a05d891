package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Other people's scripts read these columns, so their names stay as they are:
// heights and lengths on the Sun are in kilometres, for _mm would be millimetres.
func TestColumnsKeepTheirNames(t *testing.T) {
	newCatalogue(t)
	done(t, "mark", "add", "prominence", "--at", "2026-03-14T15:00:00Z", "--pa", "62", "--r", "1.05")
	header := func(args ...string) []string {
		first, _, _ := strings.Cut(done(t, args...), "\n")
		return strings.Split(strings.TrimSuffix(first, "\r"), ",")
	}
	positions := []string{"lat_deg", "cmd_deg", "lon_deg", "mu", "sigma_lat_deg", "sigma_lon_deg", "height_arcsec", "height_km"}
	assert.Subset(t, header("place", "--at", "2026-03-14T15:00:00Z", "--disc", "500,500,400", "--north", "0", "--csv", "510,520"), append(positions, "on_disc"))
	assert.Contains(t, header("log", "--csv"), "on_disc")
	for _, args := range [][]string{{"log", "--csv"}, {"export", "marks", "-"}} {
		assert.Subset(t, header(args...), append(positions, "mark", "kind", "utc", "passage", "label", "note"), "%v", args)
	}
}
