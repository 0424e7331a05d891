package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords/picture"
)

func newFrameCommand(app *app) *cobra.Command {
	return group("frame", "Add pictures to the catalogue, and put their time and role right", "",
		begins(newFrameAddCommand(app), ""),
		newFrameListCommand(app),
		newFrameShowCommand(app),
		newFrameEditCommand(app),
		newFrameSettleCommand(app),
		newFrameRemoveCommand(app),
	)
}

// frameOptions are what "frame add" was told.
type frameOptions struct {
	at, moment, role, zone, channel string
	limb, note                      string
	exposureS, sigmaS               float64
	withoutDisc, reference, json    bool
	circumstances                   circumstanceFlags
}

func newFrameAddCommand(app *app) *cobra.Command {
	var opts frameOptions
	cmd := &cobra.Command{
		Use:   "add PICTURE...",
		Short: "Add pictures: find their time and their disc, and keep both",
		Long: `Add reads PNG, JPEG, TIFF and FITS pictures, finds when they were taken and where
the disc lies, and keeps what it found. The files stay where they are, untouched.

The time is looked for in a FITS header, in EXIF, in a text file of the same name
beside the picture, and in the file's name. FITS times are UTC by standard; a
camera's time without a zone is read in the zone of the site, or in --zone, and
refused when neither is known: an hour costs half a degree of longitude.

A picture whose limb cannot be trusted is kept without a disc; set one with
limbwatch disc set. One that is in the catalogue already is told, and a file that
has moved is found again by its content.`,
		Example: `  limbwatch frame add 2026-03-14-152310Z.png
  limbwatch frame add --role limb --setup "Garden 60/single" edge*.png
  limbwatch frame add --zone Europe/London DSC_0042.jpg
  limbwatch frame add --at 2026-03-14T15:23:10Z --limb chromosphere sun.tif`,
		Args: cobra.MinimumNArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			n, err := opts.newFrame(k, cmd)
			if err != nil {
				return err
			}
			if len(args) > 1 && !n.Taken.IsZero() {
				return misuse("--at gives one time; %d pictures were named", len(args))
			}
			return runFrameAdd(ctx, app, k, n, args, opts.json)
		}),
	}
	f := cmd.Flags()
	f.StringVar(&opts.at, "at", "", "the `time`, with its zone, when the picture does not say it or says it wrongly")
	f.StringVar(&opts.moment, "moment", "", "the `moment` of the exposure to which --at belongs: start, middle or end (default: middle)")
	f.Float64Var(&opts.exposureS, "exposure", 0, "length of the exposure or of the stack, `seconds`")
	f.Float64Var(&opts.sigmaS, "sigma-time-s", 0, "standard error of --at, `seconds`")
	f.StringVar(&opts.zone, "zone", "", "`zone` of times that carry none: a name as in Europe/London, +02:00 or UTC (default: the site's)")
	f.StringVar(&opts.role, "role", "", "the `role`, what the exposure was made for: surface, limb or both")
	f.StringVar(&opts.channel, "channel", "auto", "the `channel` of a colour picture: auto, luminance, red, green or blue")
	f.StringVar(&opts.limb, "limb", "", "which limb it shows: photosphere, chromosphere or `MM,SIGMA` (default: by filter and role)")
	f.BoolVar(&opts.withoutDisc, "no-disc", false, "do not look for the disc")
	f.BoolVar(&opts.reference, "reference", false, "a picture from elsewhere, for finding north only; never counted as your own")
	f.StringVar(&opts.note, "note", "", "anything else, as `text`")
	mayBeEmpty(cmd, "note")
	opts.circumstances.addFlags(cmd)
	addJSONFlag(cmd, &opts.json)
	return cmd
}

// newFrame turns the options into what is to be added, path apart.
func (o *frameOptions) newFrame(k observe.Keeper, cmd *cobra.Command) (n observe.NewFrame, err error) {
	n = observe.NewFrame{ExposureS: o.exposureS, SigmaS: o.sigmaS, WithoutDisc: o.withoutDisc, Reference: o.reference, Note: o.note}
	if n.Circumstances, err = o.circumstances.resolve(k.Store.Read(cmd.Context())); err != nil {
		return n, err
	}
	if n.Zone, err = parseZone(o.zone); err != nil {
		return n, err
	}
	if n.Channel, err = picture.ParseChannel(o.channel); err != nil {
		return n, &misuseError{err}
	}
	if n.Role, err = catalog.ParseRole(o.role); err != nil {
		return n, &misuseError{err}
	}
	if n.Moment, err = catalog.ParseMoment(o.moment); err != nil {
		return n, &misuseError{err}
	}
	if o.limb != "" {
		if n.Layer, err = parseMeasuredLimb("limb", o.limb); err != nil {
			return n, err
		}
	}
	if o.at == "" {
		if cmd.Flags().Changed("moment") || cmd.Flags().Changed("sigma-time-s") {
			return n, misuse("--moment and --sigma-time-s go with --at")
		}
	} else if n.Taken, err = parseInstantIn(o.at, n.Zone); err != nil {
		return n, &misuseError{err}
	}
	return n, o.check(n.Taken)
}

// check refuses figures that no frame can have, before any picture is read.
func (o *frameOptions) check(taken time.Time) error {
	if taken.IsZero() {
		taken = time.Unix(0, 0) // any that is possible: the picture will say
	}
	return typed(catalog.Frame{Taken: taken, ExposureS: o.exposureS, SigmaS: o.sigmaS, Note: o.note})
}

func newFrameListCommand(app *app) *cobra.Command {
	var when rangeFlags
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List the frames, with what is known of their disc and north",
		Example: "  limbwatch frame list --from 2026-03-01 --to 2026-03-31",
		Args:    cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			from, to, err := when.resolve()
			if err != nil {
				return err
			}
			return runFrameList(ctx, cmd.OutOrStdout(), k, from, to, asJSON)
		}),
	}
	when.addFlags(cmd)
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func runFrameList(ctx context.Context, w io.Writer, k observe.Keeper, from, to time.Time, asJSON bool) error {
	if to.IsZero() {
		to = time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	frames, err := k.Store.Read(ctx).FramesBetween(from, to)
	if err != nil {
		return err
	}
	rows := make([]frameRow, len(frames))
	t := newTable("", "middle of the exposure", "role", "disc", "north", "sitting", "picture", "not settled")
	for i, f := range frames {
		if rows[i], err = frameRowOf(ctx, k, f.ID); err != nil {
			return err
		}
		r := &rows[i]
		t.add(f.ID.String(), r.UTC, r.Role, r.discInShort(), r.northInShort(), r.Sitting, r.pictureInShort(), r.warningsInShort())
	}
	if asJSON {
		return printJSON(w, rows)
	}
	return t.print(w, "no frame yet: limbwatch frame add PICTURE")
}

func newFrameShowCommand(app *app) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "show FRAME",
		Short:   "Show a frame: its time and where that is from, its disc, its north, and what is odd about it",
		Example: "  limbwatch frame show F3",
		Args:    cobra.ExactArgs(1),
		RunE: withID(app, parseFrame, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, id catalog.FrameID) error {
			row, err := frameRowOf(ctx, k, id)
			if err != nil {
				return err
			}
			if asJSON {
				return printJSON(cmd.OutOrStdout(), row)
			}
			return printFrame(cmd.OutOrStdout(), row)
		}),
	}
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func newFrameEditCommand(app *app) *cobra.Command {
	var opts frameOptions
	cmd := &cobra.Command{
		Use:   "edit FRAME",
		Short: "Put a frame's time, role or note right; its marks follow",
		Example: `  limbwatch frame edit F3 --at 2026-03-14T15:23:10Z --moment start --exposure 20
  limbwatch frame edit F3 --role limb`,
		Args: cobra.ExactArgs(1),
		RunE: withID(app, parseFrame, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, id catalog.FrameID) error {
			frame, err := k.Store.Read(ctx).Frame(id)
			if err != nil {
				return err
			}
			if err := opts.edit(cmd, &frame); err != nil {
				return err
			}
			if err := typed(frame); err != nil {
				return err
			}
			if _, err := k.EditFrame(ctx, frame); err != nil {
				return err
			}
			noteFuture(cmd.ErrOrStderr(), id.String(), frame.Taken, k.Now())
			return showFrame(ctx, cmd, k, id, opts.json)
		}),
	}
	f := cmd.Flags()
	f.StringVar(&opts.at, "at", "", "the `time`, with its zone")
	f.StringVar(&opts.moment, "moment", "", "the `moment` of the exposure to which the time belongs: start, middle or end")
	f.Float64Var(&opts.exposureS, "exposure", 0, "length of the exposure or of the stack, `seconds`")
	f.Float64Var(&opts.sigmaS, "sigma-time-s", 0, "standard error of the time, `seconds`")
	f.StringVar(&opts.role, "role", "", "the `role`, what the exposure was made for: surface, limb or both")
	f.StringVar(&opts.note, "note", "", "anything else, as `text`")
	mayBeEmpty(cmd, "moment", "role", "note")
	addJSONFlag(cmd, &opts.json)
	return cmd
}

func (o *frameOptions) edit(cmd *cobra.Command, to *catalog.Frame) (err error) {
	set := cmd.Flags().Changed
	if set("at") {
		if to.Taken, err = parseInstant(o.at); err != nil {
			return &misuseError{err}
		}
		to.TimeSource, to.Zone = "typed", "UTC"
	}
	if set("moment") {
		if to.Moment, err = catalog.ParseMoment(o.moment); err != nil {
			return &misuseError{err}
		}
	}
	if set("exposure") {
		to.ExposureS = o.exposureS
	}
	if set("sigma-time-s") {
		to.SigmaS = o.sigmaS
	}
	if set("role") {
		if to.Role, err = catalog.ParseRole(o.role); err != nil {
			return &misuseError{err}
		}
	}
	if set("note") {
		to.Note = o.note
	}
	return nil
}

func newFrameRemoveCommand(app *app) *cobra.Command {
	var withMarks bool
	cmd := &cobra.Command{
		Use:     "remove FRAME",
		Short:   "Take a frame out of sight (undo brings it back; the file is left alone)",
		Example: "  limbwatch frame remove F3 --with-marks",
		Args:    cobra.ExactArgs(1),
		RunE: withID(app, parseFrame, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, id catalog.FrameID) error {
			frame, err := k.Store.Read(ctx).Frame(id)
			if err != nil {
				return err
			}
			err = k.RemoveFrame(ctx, id, frame.Revision, withMarks)
			if e, ok := errors.AsType[*store.InUseError](err); ok && e.ByNoun == "mark" && !withMarks {
				return withHint(fmt.Errorf("frame %s has marks on it", id), "say --with-marks to take them out of sight too; limbwatch log --frame %s lists them", id)
			}
			return err
		}),
	}
	cmd.Flags().BoolVar(&withMarks, "with-marks", false, "and the marks on it")
	return cmd
}

// parseFrame reads a frame's id from the command line.
func parseFrame(text string) (catalog.FrameID, error) {
	id, err := catalog.ParseFrameID(text)
	if err != nil {
		return 0, withHint(&misuseError{err}, "see limbwatch frame list")
	}
	return id, nil
}
