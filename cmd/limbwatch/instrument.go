package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

const instrumentLong = `An instrument is a telescope; a set-up is that telescope with its filters and its
camera as they are used together. Single and double stack are two set-ups of one
instrument. In H-alpha passband and number of stacked filters say which limb a picture
is likely to show, through a narrow filter elsewhere it may be either; an odd number
of reflections mirrors a picture.

A filter set is only safe complete and as its maker prescribes.`

func newInstrumentCommand(app *app) *cobra.Command {
	return group("instrument", "Keep telescopes and their set-ups", instrumentLong,
		begins(newInstrumentAddCommand(app), ""),
		newInstrumentListCommand(app),
		newInstrumentEditCommand(app),
		newInstrumentRemoveCommand(app),
		newInstrumentLimbCommand(app),
	)
}

// setupOptions are the particulars of a telescope and a set-up as flags.
type setupOptions struct {
	rename, setup, note                string
	aperture, focal                    float64
	wavelength, passband, pixel        float64
	stacked, reflections               int
	isDefault                          bool
	renameSetup, surfaceLimb, edgeLimb string
}

func (o *setupOptions) addFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.Float64Var(&o.aperture, "aperture", 0, "free opening of the telescope in `mm`")
	f.Float64Var(&o.focal, "focal", 0, "focal length in `mm`, extenders counted in")
	f.Float64Var(&o.wavelength, "wavelength", 0, "centre of the filter in `angstrom` (default: 6562.8, H-alpha, for a narrow filter)")
	f.Float64Var(&o.passband, "passband", 0, "full width of the filter at half maximum in `angstrom`")
	f.IntVar(&o.stacked, "stacked", 0, "how `many` narrow-band filters behind one another: 1 single, 2 double stack")
	f.IntVar(&o.reflections, "reflections", 0, "how `many` mirrors between the Sun and the camera; an odd number mirrors the picture")
	f.Float64Var(&o.pixel, "pixel", 0, "side of a camera pixel in `micrometres`, binning counted in")
	f.StringVar(&o.surfaceLimb, "surface-limb", "", "which limb its surface exposures show, once measured: photosphere, chromosphere or `MM,SIGMA`")
	f.StringVar(&o.edgeLimb, "edge-limb", "", "the same for its limb exposures, `MM,SIGMA`")
	f.StringVar(&o.note, "note", "", "anything else, as `text`")
	f.BoolVar(&o.isDefault, "default", false, "meant from now on when no set-up is named")
	mayBeEmpty(cmd, "note")
}

func (o *setupOptions) apply(cmd *cobra.Command, i *catalog.Instrument, s *catalog.Setup) error {
	set := cmd.Flags().Changed
	if set("name") {
		i.Name = o.rename
	}
	if set("aperture") {
		i.ApertureMm = o.aperture
	}
	if set("focal") {
		i.FocalMm = o.focal
	}
	if set("setup-name") {
		s.Name = o.renameSetup
	}
	if set("passband") {
		s.PassbandA = o.passband
	}
	if set("stacked") {
		s.Stacked = o.stacked
	}
	if set("wavelength") {
		s.WavelengthA = o.wavelength
	} else if s.ID == 0 && s.NarrowBand() {
		s.WavelengthA = catalog.HAlphaA
	}
	if set("reflections") {
		s.Reflections, s.ReflectionsKnown = o.reflections, true
	}
	if set("pixel") {
		s.PixelUm = o.pixel
	}
	if set("note") {
		s.Note = o.note
	}
	if set("default") {
		s.Default = o.isDefault
	}
	if set("surface-limb") {
		layer, err := parseMeasuredLimb("surface-limb", o.surfaceLimb)
		if err != nil {
			return err
		}
		s.Surface = layer
	}
	if set("edge-limb") {
		layer, err := parseMeasuredLimb("edge-limb", o.edgeLimb)
		if err != nil {
			return err
		}
		s.Edge = layer
	}
	if err := typed(*i); err != nil {
		return err
	}
	probe := *s
	if s.Instrument == 0 {
		probe.Instrument = 1 // a new one's is given when it is kept
	}
	return typed(probe)
}

func newInstrumentAddCommand(app *app) *cobra.Command {
	var opts setupOptions
	cmd := &cobra.Command{
		Use:   "add NAME",
		Short: "Add a telescope with a set-up, or a further set-up of one that is there",
		Long:  instrumentLong,
		Example: `  limbwatch instrument add "Garden 60" --aperture 60 --focal 400 --setup single --passband 0.7 --stacked 1 --reflections 1 --pixel 2.9
  limbwatch instrument add "Garden 60" --setup double --passband 0.45 --stacked 2 --pixel 2.9`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			k, err := app.keeper(ctx)
			if err != nil {
				return err
			}
			setup := catalog.Setup{Name: opts.setup}
			instrument, err := k.Store.Read(ctx).InstrumentNamed(args[0])
			isNew := isMissing(err)
			if err != nil && !isNew {
				return err
			}
			if isNew {
				instrument = catalog.Instrument{Name: args[0]}
			}
			if err := opts.apply(cmd, &instrument, &setup); err != nil {
				return err
			}
			if isNew {
				instrument, setup, err = k.AddInstrument(ctx, instrument, setup)
			} else {
				if cmd.Flags().Changed("aperture") || cmd.Flags().Changed("focal") {
					return withHint(misuse("%s is there already: --aperture and --focal would change it", instrument.Name),
						"change it with limbwatch instrument edit, or leave them out to add a set-up")
				}
				setup.Instrument = instrument.ID
				setup, err = k.AddSetup(ctx, setup)
			}
			if err != nil {
				return adviseTaken(err, "a set-up of "+instrument.Name, opts.setup, "instrument list")
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s %s, set-up %s %s\n", instrument.ID, instrument.Name, setup.ID, setup.Name)
			return err
		},
	}
	cmd.Flags().StringVar(&opts.setup, "setup", "usual", "`name` of the set-up")
	opts.addFlags(cmd)
	return cmd
}

func newInstrumentEditCommand(app *app) *cobra.Command {
	var opts setupOptions
	cmd := &cobra.Command{
		Use:     "edit SETUP",
		Short:   "Change a set-up or its telescope, or choose the default set-up",
		Example: "  limbwatch instrument edit U2 --passband 0.5 --default",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			k, err := app.keeper(ctx)
			if err != nil {
				return err
			}
			instrument, setup, err := findSetup(k.Store.Read(ctx), args[0])
			if err != nil {
				return err
			}
			was := instrument
			if err := opts.apply(cmd, &instrument, &setup); err != nil {
				return err
			}
			named := instrument.Name + "/" + setup.Name
			if instrument != was {
				instrument, setup, err = k.EditInstrumentAndSetup(ctx, instrument, setup)
			} else {
				setup, err = k.EditSetup(ctx, setup)
			}
			if err != nil {
				return adviseTaken(err, "a telescope or set-up", named, "instrument list")
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s %s, set-up %s %s\n", instrument.ID, instrument.Name, setup.ID, setup.Name)
			return err
		},
	}
	cmd.Flags().StringVar(&opts.rename, "name", "", "a new `name` for the telescope")
	cmd.Flags().StringVar(&opts.renameSetup, "setup-name", "", "a new `name` for the set-up")
	opts.addFlags(cmd)
	asBefore(cmd, "wavelength", "")
	return cmd
}

func newInstrumentRemoveCommand(app *app) *cobra.Command {
	return &cobra.Command{
		Use:   "remove SETUP|INSTRUMENT",
		Short: "Take a set-up, or a telescope with all its set-ups, out of sight (undo brings it back)",
		Example: `  limbwatch instrument remove U2
  limbwatch instrument remove I1`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			k, err := app.keeper(ctx)
			if err != nil {
				return err
			}
			if id, err := catalog.ParseInstrumentID(args[0]); err == nil {
				instrument, err := k.Store.Read(ctx).Instrument(id)
				if err != nil {
					return adviseStore(err)
				}
				return adviseStore(k.RemoveInstrument(ctx, id, instrument.Revision))
			}
			_, setup, err := findSetup(k.Store.Read(ctx), args[0])
			if err != nil {
				return err
			}
			return adviseStore(k.RemoveSetup(ctx, setup.ID, setup.Revision))
		},
	}
}

// setupRow is a set-up with its telescope as JSON names it; what is not known is
// null.
type setupRow struct {
	Setup        catalog.SetupID      `json:"setup"`
	UUID         string               `json:"uuid"`
	Name         string               `json:"setup_name"`
	Instrument   catalog.InstrumentID `json:"instrument"`
	Telescope    string               `json:"instrument_name"`
	ApertureMm   *float64             `json:"aperture_mm"`
	FocalMm      *float64             `json:"focal_mm"`
	WavelengthA  *float64             `json:"wavelength_angstrom"`
	PassbandA    *float64             `json:"passband_angstrom"`
	Stacked      int                  `json:"stacked"`
	Reflections  *int                 `json:"reflections"`
	PixelUm      *float64             `json:"pixel_um"`
	ScaleArcsec  *float64             `json:"arcsec_per_px"`
	SurfaceMm    *field.Megametres    `json:"surface_limb_km"`
	EdgeMm       *field.Megametres    `json:"edge_limb_km"`
	Default      bool                 `json:"default"`
	Note         string               `json:"note"`
	SurfaceSigma *field.Megametres    `json:"sigma_surface_limb_km"`
	EdgeSigma    *field.Megametres    `json:"sigma_edge_limb_km"`
	Mirrored     *bool                `json:"mirrored"`
	MirroredOdds *float64             `json:"mirrored_odds"`
	MirroredWhy  string               `json:"mirrored_why,omitempty"`
}

func newInstrumentListCommand(app *app) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List the telescopes and their set-ups",
		Example: "  limbwatch instrument list --json",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			k, err := app.keeper(cmd.Context())
			if err != nil {
				return err
			}
			view := k.Store.Read(cmd.Context())
			setups, err := view.Setups()
			if err != nil {
				return err
			}
			return printSetups(cmd.Context(), cmd.OutOrStdout(), k, setups, asJSON)
		},
	}
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func printSetups(ctx context.Context, w io.Writer, k observe.Keeper, setups []catalog.Setup, asJSON bool) error {
	view := k.Store.Read(ctx)
	rows := make([]setupRow, len(setups))
	t := newTable("", "telescope", "set-up", "aperture", "focal length", "filter", "pixel", "scale", "picture")
	for n, s := range setups {
		i, err := view.Instrument(s.Instrument)
		if err != nil {
			return err
		}
		row := setupRow{
			Setup: s.ID, UUID: s.UUID.String(), Name: s.Name, Instrument: i.ID, Telescope: i.Name,
			ApertureMm: known(i.ApertureMm), FocalMm: known(i.FocalMm), WavelengthA: known(s.WavelengthA),
			PassbandA: known(s.PassbandA), Stacked: s.Stacked, PixelUm: known(s.PixelUm), Default: s.Default, Note: s.Note,
		}
		if s.ReflectionsKnown {
			row.Reflections = &s.Reflections
		}
		if scale, ok := catalog.ScaleArcsec(i, s); ok {
			row.ScaleArcsec = &scale
		}
		if l := s.Surface; l != nil {
			row.SurfaceMm, row.SurfaceSigma = field.MegametresOf(l.HeightMm), field.MegametresOf(l.SigmaMm)
		}
		if l := s.Edge; l != nil {
			row.EdgeMm, row.EdgeSigma = field.MegametresOf(l.HeightMm), field.MegametresOf(l.SigmaMm)
		}
		parity, err := k.ParityOfSetup(ctx, s.ID)
		if err != nil {
			return err
		}
		picture := ""
		if parity.Known {
			row.Mirrored, row.MirroredOdds, row.MirroredWhy = &parity.Mirrored, known(parity.Odds), parity.Why
			picture = fmt.Sprintf("%s (%.3f)", parity.Why, math.Floor(parity.Odds*1000)/1000)
		}
		rows[n] = row
		var filter []string
		if s.PassbandA > 0 {
			filter = append(filter, fmt.Sprintf("%g Å", s.PassbandA))
		}
		if s.Stacked > 0 {
			filter = append(filter, fmt.Sprintf("%d stacked", s.Stacked))
		}
		t.add(s.ID.String(), i.Name+" "+i.ID.String(), s.Name+defaultMark(s.Default), measured(row.ApertureMm, " mm"),
			measured(row.FocalMm, " mm"), strings.Join(filter, ", "), measured(row.PixelUm, " µm"), measured(row.ScaleArcsec, " ″/px"), picture)
	}
	if asJSON {
		return printJSON(w, rows)
	}
	return t.print(w, "no telescope yet: limbwatch instrument add NAME --aperture MM --focal MM --passband A --stacked N")
}

// known is a number of which zero says that it is not known.
func known(v float64) *float64 {
	if v == 0 {
		return nil
	}
	return &v
}

func measured(v *float64, unit string) string {
	if v == nil {
		return ""
	}
	return fmt.Sprintf("%.4g%s", *v, unit)
}

// findSetup takes the id of a set-up or an instrument, or the name of one, alone
// or with the telescope's before it ("Garden 60/double").
func findSetup(v *store.View, text string) (catalog.Instrument, catalog.Setup, error) {
	setups, err := v.Setups()
	if err != nil {
		return catalog.Instrument{}, catalog.Setup{}, err
	}
	var found []catalog.Setup
	var telescope catalog.Instrument
	for _, s := range setups {
		i, err := v.Instrument(s.Instrument)
		if err != nil {
			return i, s, err
		}
		if strings.EqualFold(s.ID.String(), text) {
			return i, s, nil
		}
		if s.Name == text || i.Name == text || i.Name+"/"+s.Name == text || strings.EqualFold(i.ID.String(), text) {
			found, telescope = append(found, s), i
		}
	}
	switch len(found) {
	case 0:
		return catalog.Instrument{}, catalog.Setup{}, withHint(&store.NotFoundError{Noun: "set-up", ID: fmt.Sprintf("%q", text)}, "see limbwatch instrument list")
	case 1:
		return telescope, found[0], nil
	}
	var ids []string
	for _, s := range found {
		ids = append(ids, s.ID.String())
	}
	return catalog.Instrument{}, catalog.Setup{}, misuse("%q names %s: say which", text, strings.Join(ids, " and "))
}
