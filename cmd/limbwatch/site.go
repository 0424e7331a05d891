package main

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

func newSiteCommand(app *app) *cobra.Command {
	return group("site", "Keep where telescopes stand, and in which time zone", "",
		begins(newSiteAddCommand(app), ""),
		newSiteListCommand(app),
		newSiteEditCommand(app),
		newSiteRemoveCommand(app),
	)
}

// siteOptions are a site's particulars as flags.
type siteOptions struct {
	rename, zone, note        string
	latDeg, lonDeg, elevation float64
	isDefault                 bool
}

func (o *siteOptions) addFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.Float64Var(&o.latDeg, "lat", 0, "latitude in `degrees`, north positive")
	f.Float64Var(&o.lonDeg, "lon", 0, "longitude in `degrees`, east positive")
	f.Float64Var(&o.elevation, "elevation", 0, "above the sea, in `metres`")
	f.StringVar(&o.zone, "zone", "", "time zone of its clocks, an IANA `name` as in Europe/Lisbon")
	f.StringVar(&o.note, "note", "", "anything else, as `text`")
	f.BoolVar(&o.isDefault, "default", false, "meant from now on when no site is named")
	mayBeEmpty(cmd, "note")
}

func (o *siteOptions) apply(cmd *cobra.Command, to *catalog.Site) {
	set := cmd.Flags().Changed
	if set("name") {
		to.Name = o.rename
	}
	if set("lat") {
		to.LatDeg = o.latDeg
	}
	if set("lon") {
		to.LonDeg = o.lonDeg
	}
	if set("elevation") {
		to.ElevationM = o.elevation
	}
	if set("zone") {
		to.Zone = o.zone
	}
	if set("note") {
		to.Note = o.note
	}
	if set("default") {
		to.Default = o.isDefault
	}
}

func newSiteAddCommand(app *app) *cobra.Command {
	var opts siteOptions
	cmd := &cobra.Command{
		Use:   "add NAME",
		Short: "Add a site; the first is the default",
		Long: `Add keeps a site. Its zone says what a camera's clock means when a picture's
time carries none; without a zone such a time is refused, never guessed.`,
		Example: `  limbwatch site add "Pell Garden" --lat 50.91 --lon -2.13 --zone Europe/London`,
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			k, err := app.keeper(cmd.Context())
			if err != nil {
				return err
			}
			s := catalog.Site{Name: args[0]}
			opts.apply(cmd, &s)
			if err := typed(s); err != nil {
				return err
			}
			if s, err = k.AddSite(cmd.Context(), s); err != nil {
				return adviseTaken(err, "a site", args[0], "site list")
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s %s\n", s.ID, s.Name)
			return err
		},
	}
	opts.addFlags(cmd)
	for _, name := range []string{"lat", "lon"} {
		if err := cmd.MarkFlagRequired(name); err != nil {
			panic(err) // the flag is defined above
		}
	}
	return cmd
}

func newSiteEditCommand(app *app) *cobra.Command {
	var opts siteOptions
	cmd := &cobra.Command{
		Use:   "edit SITE",
		Short: "Change a site, or choose the default; positions that follow from it follow",
		Example: `  limbwatch site edit "Pell Garden" --lon -2.131
  limbwatch site edit L2 --default`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			k, err := app.keeper(cmd.Context())
			if err != nil {
				return err
			}
			s, err := findSite(k.Store.Read(cmd.Context()), args[0])
			if err != nil {
				return err
			}
			opts.apply(cmd, &s)
			if err := typed(s); err != nil {
				return err
			}
			name := s.Name
			if s, err = k.EditSite(cmd.Context(), s); err != nil {
				return adviseTaken(err, "a site", name, "site list")
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s %s\n", s.ID, s.Name)
			return err
		},
	}
	cmd.Flags().StringVar(&opts.rename, "name", "", "a new `name`")
	opts.addFlags(cmd)
	mayBeEmpty(cmd, "zone")
	return cmd
}

func newSiteRemoveCommand(app *app) *cobra.Command {
	return &cobra.Command{
		Use:     "remove SITE",
		Short:   "Take a site out of sight that has no sitting (undo brings it back)",
		Example: "  limbwatch site remove L2",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			k, err := app.keeper(cmd.Context())
			if err != nil {
				return err
			}
			s, err := findSite(k.Store.Read(cmd.Context()), args[0])
			if err != nil {
				return err
			}
			return adviseStore(k.RemoveSite(cmd.Context(), s.ID, s.Revision))
		},
	}
}

// siteRow is a site as JSON names it.
type siteRow struct {
	ID         catalog.SiteID `json:"site"`
	UUID       string         `json:"uuid"`
	Name       string         `json:"name"`
	LatDeg     float64        `json:"lat_deg"`
	LonDeg     float64        `json:"lon_deg"`
	ElevationM float64        `json:"elevation_m"`
	Zone       string         `json:"zone"`
	Default    bool           `json:"default"`
	Note       string         `json:"note"`
}

func newSiteListCommand(app *app) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List the sites",
		Example: "  limbwatch site list --json",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			k, err := app.keeper(cmd.Context())
			if err != nil {
				return err
			}
			sites, err := k.Store.Read(cmd.Context()).Sites()
			if err != nil {
				return err
			}
			return printSites(cmd.OutOrStdout(), sites, asJSON)
		},
	}
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func printSites(w io.Writer, sites []catalog.Site, asJSON bool) error {
	rows := make([]siteRow, len(sites))
	t := newTable("", "site", "latitude", "longitude (east +)", "zone", "note")
	for i, s := range sites {
		rows[i] = siteRow{s.ID, s.UUID.String(), s.Name, s.LatDeg, s.LonDeg, s.ElevationM, s.Zone, s.Default, s.Note}
		t.add(s.ID.String(), s.Name+defaultMark(s.Default), fmt.Sprintf("%+.4f°", s.LatDeg), fmt.Sprintf("%+.4f°", s.LonDeg), s.Zone, s.Note)
	}
	if asJSON {
		return printJSON(w, rows)
	}
	return t.print(w, "no site yet: limbwatch site add NAME --lat DEG --lon DEG --zone ZONE")
}

// findSite takes an id or a name.
func findSite(v *store.View, text string) (catalog.Site, error) {
	if id, err := catalog.ParseSiteID(text); err == nil {
		s, err := v.Site(id)
		return s, adviseStore(err)
	}
	s, err := v.SiteNamed(text)
	if err != nil {
		return s, withHint(err, "see limbwatch site list")
	}
	return s, nil
}

// geodetic is a place on the Earth, longitude east positive.
type geodetic struct {
	lat, lonEast coords.Angle
}

// sitePlace is where a command stands on the Earth: a site of the catalogue, or
// typed coordinates.
type sitePlace struct {
	name           string
	latDeg, lonDeg float64
	typed          func() bool
}

func (s *sitePlace) addFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&s.name, "site", "", "a `site` of the catalogue, by name or id")
	f.Float64Var(&s.latDeg, "site-lat", 0, "latitude of the site, `degrees`, north positive")
	f.Float64Var(&s.lonDeg, "site-lon", 0, "longitude of the site, `degrees`, east positive")
	s.typed = func() bool { return f.Changed("site-lat") }
	cmd.MarkFlagsRequiredTogether("site-lat", "site-lon")
	cmd.MarkFlagsMutuallyExclusive("site", "site-lat")
}

// resolve gives the site's coordinates, or nil when none was named.
func (s *sitePlace) resolve(ctx context.Context, app *app) (*geodetic, error) {
	if s.name != "" {
		k, err := app.keeper(ctx)
		if err != nil {
			return nil, err
		}
		site, err := findSite(k.Store.Read(ctx), s.name)
		if err != nil {
			return nil, err
		}
		return &geodetic{coords.Angle(site.LatDeg) * coords.Degree, coords.Angle(site.LonDeg) * coords.Degree}, nil
	}
	if !s.typed() {
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
