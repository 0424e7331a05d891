package main

import (
	"context"

	"github.com/spf13/cobra"

	"limbwatch/coords"
)

// sitePlace is where a command stands on the Earth: a site of the catalogue, or
// typed coordinates.
type sitePlace struct {
	name             string
	latDeg, lonDeg   float64
	latFlag, lonFlag func() bool
}

func (s *sitePlace) addFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.Float64Var(&s.latDeg, "site-lat", 0, "latitude of the site, `degrees`, north positive")
	f.Float64Var(&s.lonDeg, "site-lon", 0, "longitude of the site, `degrees`, east positive")
	s.latFlag = func() bool { return f.Changed("site-lat") }
	s.lonFlag = func() bool { return f.Changed("site-lon") }
	cmd.MarkFlagsRequiredTogether("site-lat", "site-lon")
}

// resolve gives the site's coordinates, or nil when none was named.
func (s *sitePlace) resolve(_ context.Context, _ *app) (*geodetic, error) {
	if !s.latFlag() {
		return nil, nil
	}
	if !(s.latDeg >= -90 && s.latDeg <= 90) {
		return nil, misuse("--site-lat %v: a latitude lies between -90 and 90 degrees", s.latDeg)
	}
	if !(s.lonDeg >= -180 && s.lonDeg <= 360) {
		return nil, misuse("--site-lon %v: a longitude lies between -180 and 180 degrees, east positive", s.lonDeg)
	}
	return &geodetic{coords.Angle(s.latDeg) * coords.Degree, coords.Angle(s.lonDeg) * coords.Degree}, nil
}
