package main

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

const sittingLong = `A sitting is one observer at one instrument on one day; one that runs over 0h UT
stays one. Frames find theirs, or begin one. What it looked for decides what the
log may count: a kind that was not looked for is blank, one that was looked for
and not seen is 0.`

func newSittingCommand(app *app) *cobra.Command {
	return group("sitting", "Keep what a day's observing looked for, its seeing and its clock", sittingLong,
		begins(newSittingAddCommand(app), ""),
		newSittingListCommand(app),
		newSittingEditCommand(app),
		newSittingRemoveCommand(app),
	)
}

// sittingOptions are a sitting's particulars as flags.
type sittingOptions struct {
	looked, none, notLooked []string
	seeing, transparency    string
	clockS                  float64
	tuning, note            string
	circumstances           circumstanceFlags
}

func (o *sittingOptions) addFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringSliceVar(&o.looked, "looked", nil, "`kinds` that were looked for: sunspot, plage, filament, prominence")
	f.StringSliceVar(&o.none, "none-seen", nil, "`kinds` that were looked for, and none was there")
	f.StringSliceVar(&o.notLooked, "not-looked", nil, "`kinds` that were not looked for after all")
	f.StringVar(&o.seeing, "seeing", "", "a value and the name of its scale, as `\"2 Kiepenheuer steadiness\"`")
	f.StringVar(&o.transparency, "transparency", "", "a `value` and the name of its scale")
	f.Float64Var(&o.clockS, "clock", 0, "`seconds` to add to the camera's times to get UTC")
	f.StringVar(&o.tuning, "tuning", "", "`notes` on the tuning of the filter")
	f.StringVar(&o.note, "note", "", "anything else, as `text`")
	mayBeEmpty(cmd, "seeing", "transparency", "tuning", "note")
	o.circumstances.addFlags(cmd)
}

func (o *sittingOptions) apply(cmd *cobra.Command, v *store.View, to *catalog.Sitting) error {
	set := cmd.Flags().Changed
	who, err := o.circumstances.resolve(v)
	if err != nil {
		return err
	}
	if who.Observer != 0 {
		to.Observer = who.Observer
	}
	if who.Setup != 0 {
		to.Setup = who.Setup
	}
	if who.Site != 0 {
		to.Site = who.Site
	}
	looks := map[catalog.Kind]catalog.Look{}
	for kind, look := range to.Looked {
		looks[kind] = look
	}
	for _, said := range []struct {
		kinds []string
		look  catalog.Look
	}{{o.looked, catalog.LookedFor}, {o.none, catalog.NoneSeen}, {o.notLooked, catalog.NotLooked}} {
		for _, text := range said.kinds {
			kind, err := catalog.ParseKind(text)
			if err != nil {
				return &misuseError{err}
			}
			looks[kind] = said.look
			if said.look == catalog.NotLooked {
				delete(looks, kind)
			}
		}
	}
	to.Looked = looks
	if set("seeing") {
		if to.Seeing, err = parseRating("seeing", o.seeing); err != nil {
			return err
		}
	}
	if set("transparency") {
		if to.Transparency, err = parseRating("transparency", o.transparency); err != nil {
			return err
		}
	}
	if set("clock") {
		to.ClockCorrectionS = o.clockS
	}
	if set("tuning") {
		to.Tuning = o.tuning
	}
	if set("note") {
		to.Note = o.note
	}
	return nil
}

// parseRating reads a value with its scale's name behind it; nothing takes the
// rating away.
func parseRating(flag, text string) (catalog.Rating, error) {
	value, scale, found := strings.Cut(strings.TrimSpace(text), " ")
	if text == "" {
		return catalog.Rating{}, nil
	}
	if !found {
		return catalog.Rating{}, withHint(misuse("--%s %q has no scale: scales run both ways, so a value alone says nothing", flag, text),
			"name it behind the value, as in --%s \"2 Kiepenheuer steadiness\"", flag)
	}
	return catalog.Rating{Value: value, Scale: strings.TrimSpace(scale)}, nil
}

func newSittingAddCommand(app *app) *cobra.Command {
	var opts sittingOptions
	cmd := &cobra.Command{
		Use:     "add DAY",
		Short:   "Add a sitting by hand, as for a day without a picture",
		Long:    sittingLong,
		Example: `  limbwatch sitting add 2026-03-14 --looked sunspot,filament --none-seen prominence --seeing "2 Kiepenheuer steadiness"`,
		Args:    cobra.ExactArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			day, err := time.Parse(time.DateOnly, args[0])
			if err != nil {
				return misuse("day %q: want a UT day, as 2026-03-14", args[0])
			}
			s := catalog.Sitting{Day: day}
			if err := opts.apply(cmd, k.Store.Read(ctx), &s); err != nil {
				return err
			}
			if err := typed(s); err != nil {
				return err
			}
			if s, err = k.AddSitting(ctx, s); err != nil {
				return err
			}
			noteFuture(cmd.ErrOrStderr(), s.ID.String(), s.Day, k.Now())
			if err := noteSameSitting(cmd.ErrOrStderr(), k.Store.Read(ctx), s); err != nil {
				return err
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s %s\n", s.ID, s.Day.Format(time.DateOnly))
			return err
		}),
	}
	opts.addFlags(cmd)
	return cmd
}

// noteSameSitting tells of a sitting of the same day, observer, set-up and site, which one
// may have meant to change.
func noteSameSitting(stderr io.Writer, v *store.View, s catalog.Sitting) error {
	day, err := v.SittingsBetween(s.Day, s.Day.AddDate(0, 0, 1))
	if err != nil {
		return err
	}
	for _, other := range day {
		if other.ID != s.ID && other.Observer == s.Observer && other.Setup == s.Setup && other.Site == s.Site {
			fmt.Fprintf(stderr, "limbwatch: note: %s is a sitting of that day with the same observer, set-up and site; if you meant to change that: limbwatch undo, then limbwatch sitting edit %s\n", other.ID, other.ID)
			return nil
		}
	}
	return nil
}

func newSittingEditCommand(app *app) *cobra.Command {
	var opts sittingOptions
	cmd := &cobra.Command{
		Use:   "edit SITTING",
		Short: "Say what a sitting looked for, its seeing, or put its clock right; its marks follow",
		Example: `  limbwatch sitting edit S3 --looked sunspot,plage,filament --none-seen prominence
  limbwatch sitting edit S3 --clock -38`,
		Args: cobra.ExactArgs(1),
		RunE: withID(app, parseSitting, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, id catalog.SittingID) error {
			s, err := k.Store.Read(ctx).Sitting(id)
			if err != nil {
				return err
			}
			if err := opts.apply(cmd, k.Store.Read(ctx), &s); err != nil {
				return err
			}
			if err := typed(s); err != nil {
				return err
			}
			if s, err = k.EditSitting(ctx, s); err != nil {
				return err
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s %s\n", s.ID, s.Day.Format(time.DateOnly))
			return err
		}),
	}
	opts.addFlags(cmd)
	return cmd
}

func newSittingRemoveCommand(app *app) *cobra.Command {
	return &cobra.Command{
		Use:     "remove SITTING",
		Short:   "Take a sitting without frames out of sight (undo brings it back)",
		Example: "  limbwatch sitting remove S3",
		Args:    cobra.ExactArgs(1),
		RunE: withID(app, parseSitting, func(ctx context.Context, k observe.Keeper, _ *cobra.Command, id catalog.SittingID) error {
			s, err := k.Store.Read(ctx).Sitting(id)
			if err != nil {
				return err
			}
			return k.RemoveSitting(ctx, id, s.Revision)
		}),
	}
}

func parseSitting(text string) (catalog.SittingID, error) {
	id, err := catalog.ParseSittingID(text)
	if err != nil {
		return 0, withHint(&misuseError{err}, "see limbwatch sitting list")
	}
	return id, nil
}

// sittingRow is a sitting as JSON names it.
type sittingRow struct {
	Sitting           catalog.SittingID `json:"sitting"`
	UUID              string            `json:"uuid"`
	Day               string            `json:"day"`
	Observer          string            `json:"observer"`
	Setup             string            `json:"setup"`
	Site              string            `json:"site"`
	Looked            map[string]string `json:"looked"`
	Seeing            string            `json:"seeing"`
	SeeingScale       string            `json:"seeing_scale"`
	Transparency      string            `json:"transparency"`
	TransparencyScale string            `json:"transparency_scale"`
	ClockCorrectionS  float64           `json:"clock_correction_s"`
	Tuning            string            `json:"tuning"`
	Note              string            `json:"note"`
}

func newSittingListCommand(app *app) *cobra.Command {
	var when rangeFlags
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List the sittings",
		Example: "  limbwatch sitting list --from 2026-03-01",
		Args:    cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			from, to, err := when.resolve()
			if err != nil {
				return err
			}
			if to.IsZero() {
				to = time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)
			}
			v := k.Store.Read(ctx)
			sittings, err := v.SittingsBetween(from, to)
			if err != nil {
				return err
			}
			return printSittings(cmd.OutOrStdout(), v, sittings, asJSON)
		}),
	}
	when.addFlags(cmd)
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func printSittings(w io.Writer, v *store.View, sittings []catalog.Sitting, asJSON bool) error {
	rows := make([]sittingRow, len(sittings))
	t := newTable("", "day (UT)", "observer", "set-up", "site", "looked for", "seeing", "note")
	for n, s := range sittings {
		row := sittingRow{
			Sitting: s.ID, UUID: s.UUID.String(), Day: s.Day.Format(time.DateOnly), Looked: map[string]string{},
			Seeing: s.Seeing.Value, SeeingScale: s.Seeing.Scale, Transparency: s.Transparency.Value, TransparencyScale: s.Transparency.Scale,
			ClockCorrectionS: s.ClockCorrectionS, Tuning: s.Tuning, Note: s.Note,
		}
		if err := nameCircumstances(v, s, &row); err != nil {
			return err
		}
		var looked []string
		for _, kind := range catalog.Kinds {
			if look := s.Looked[kind]; look != catalog.NotLooked {
				row.Looked[kind.String()] = look.String()
				text := kind.String()
				if look == catalog.NoneSeen {
					text = "no " + text
				}
				looked = append(looked, text)
			}
		}
		rows[n] = row
		t.add(s.ID.String(), row.Day, row.Observer, row.Setup, row.Site, strings.Join(looked, ", "), strings.TrimSpace(row.Seeing+" "+row.SeeingScale), row.Note)
	}
	if asJSON {
		return printJSON(w, rows)
	}
	return t.print(w, "no sitting yet: the first frame begins one")
}

// nameCircumstances puts names for ids.
func nameCircumstances(v *store.View, s catalog.Sitting, row *sittingRow) error {
	if s.Observer != 0 {
		o, err := v.Observer(s.Observer)
		if err != nil {
			return err
		}
		row.Observer = o.Name
	}
	if s.Setup != 0 {
		setup, err := v.Setup(s.Setup)
		if err != nil {
			return err
		}
		i, err := v.Instrument(setup.Instrument)
		if err != nil {
			return err
		}
		row.Setup = i.Name + "/" + setup.Name
	}
	if s.Site != 0 {
		site, err := v.Site(s.Site)
		if err != nil {
			return err
		}
		row.Site = site.Name
	}
	return nil
}
