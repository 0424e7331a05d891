package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"

	"github.com/spf13/cobra"

	"limbwatch/coords/limb"
	"limbwatch/coords/picture"
)

func newDiscCommand(app *app) *cobra.Command {
	return group("disc", "Find the disc in a picture, or set that of a frame", "",
		newDiscFindCommand(),
		newDiscSetCommand(app),
		newDiscFitCommand(app),
		newDiscAcceptCommand(app),
		newDiscRemoveCommand(app),
	)
}

type discFindOptions struct {
	channel string
	ellipse bool
	circle  bool
	json    bool
}

func newDiscFindCommand() *cobra.Command {
	var opts discFindOptions
	cmd := &cobra.Command{
		Use:   "find PICTURE",
		Short: "Find the Sun's limb in a picture and fit the disc; store nothing",
		Long: `Find looks for the Sun's limb in a PNG, JPEG, TIFF or FITS picture of the whole
disc or a part of it, and fits a circle (or, where the limb is plainly flattened,
an ellipse). It keeps nothing.

Pixel (0, 0) is the centre of the top-left pixel of the picture as shown, after
the orientation that a camera wrote into it; a FITS picture is shown with its
row 1 at the bottom. x runs right, y down.

When the picture shows no limb that can be trusted it says why and ends with
exit code 1: a wrong disc is worse than none. Three or more limb points, typed,
are the way out (see limbwatch disc set).

In H-alpha the limb lies some 4 Mm, 0.6 % of the radius, outside the white-light
one; which one a picture shows depends on filter and exposure.`,
		Example: "  limbwatch disc find sun.png\n  limbwatch disc find --json 2026-03-14-152310Z.fits",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			channel, err := picture.ParseChannel(opts.channel)
			if err != nil {
				return &misuseError{err}
			}
			pic, header, err := picture.Open(args[0], picture.Options{Channel: channel})
			if err != nil {
				return withHint(err, "give a PNG, JPEG, TIFF or FITS file that shows the Sun's disc")
			}
			for _, warning := range header.Warnings {
				fmt.Fprintf(cmd.ErrOrStderr(), "limbwatch: note: %s\n", warning)
			}
			shape := limb.CircleOrEllipse
			switch {
			case opts.circle:
				shape = limb.Circle
			case opts.ellipse:
				shape = limb.Ellipse
			}
			err = runDiscFind(cmd.OutOrStdout(), pic, limb.Options{Shape: shape}, opts.json)
			if err != nil && !isSilent(err) {
				err = fmt.Errorf("%s: %w", filepath.Base(args[0]), err)
			}
			return err
		},
	}
	cmd.Flags().StringVar(&opts.channel, "channel", "auto", "the `channel` of a colour picture: auto, luminance, red, green or blue")
	cmd.Flags().BoolVar(&opts.circle, "circle", false, "fit a circle, whatever the limb looks like")
	cmd.Flags().BoolVar(&opts.ellipse, "ellipse", false, "fit an ellipse, as for a low Sun")
	cmd.MarkFlagsMutuallyExclusive("circle", "ellipse")
	addJSONFlag(cmd, &opts.json)
	return cmd
}

// foundDisc is the answer of "disc find"; its figures are null when it refuses.
type foundDisc struct {
	CentreXPx     *float64 `json:"centre_x_px"`
	CentreYPx     *float64 `json:"centre_y_px"`
	RadiusPx      *float64 `json:"radius_px"`
	Flattening    *float64 `json:"flattening,omitempty"`
	ShortAxisDeg  *float64 `json:"short_axis_deg,omitempty"`
	SigmaCentrePx *float64 `json:"sigma_centre_px"`
	SigmaRadiusPx *float64 `json:"sigma_radius_px"`
	RMSPx         *float64 `json:"rms_px"`
	ArcDeg        *float64 `json:"arc_deg"`
	LimbWidthPx   *float64 `json:"limb_width_px"`
	Points        int      `json:"points"`
	Rejected      int      `json:"rejected"`
	Negative      bool     `json:"negative"`
	Verdict       string   `json:"verdict"`
	Reason        string   `json:"reason,omitempty"`
}

func newFoundDisc(f limb.Fit) foundDisc {
	l := f.Limb
	centre, radius := l.Cov.SigmaCentrePx(), l.Cov.SigmaRadiusPx()
	found := foundDisc{
		CentreXPx: &l.Centre.X, CentreYPx: &l.Centre.Y, RadiusPx: &l.RadiusPx,
		SigmaCentrePx: &centre, SigmaRadiusPx: &radius,
		RMSPx: &f.RMSPx, ArcDeg: &f.ArcDeg, LimbWidthPx: &f.WidthPx,
		Points: f.Points, Rejected: f.Rejected, Negative: f.Negative, Verdict: "accepted",
	}
	if l.Flattening != 0 {
		axis := l.ShortAxis.Degrees()
		found.Flattening, found.ShortAxisDeg = &l.Flattening, &axis
	}
	return found
}

func runDiscFind(w io.Writer, pic *picture.Picture, opts limb.Options, asJSON bool) error {
	fit, err := limb.Find(pic, opts)
	if refused := new(limb.RefusedError); errors.As(err, &refused) {
		if !asJSON {
			return withHint(err, "add the frame, then type three or more limb points with limbwatch disc set")
		}
		if err := printJSON(w, foundDisc{Verdict: "refused", Reason: refused.Reason}); err != nil {
			return err
		}
		return &silentError{err}
	}
	if err != nil {
		return err
	}
	found := newFoundDisc(fit)
	if asJSON {
		return printJSON(w, found)
	}
	return printFit(w, pic, fit)
}

func printFit(w io.Writer, pic *picture.Picture, fit limb.Fit) error {
	l := fit.Limb
	centre, radius := l.Cov.SigmaCentrePx(), l.Cov.SigmaRadiusPx()
	fmt.Fprintf(w, "picture   %d × %d px, %s", pic.Width, pic.Height, pic.Depth)
	if pic.Colour {
		fmt.Fprintf(w, ", %s of its colours: %s", pic.Channel, pic.Why)
	}
	fmt.Fprintln(w)
	fmt.Fprintf(w, "centre    x %s, y %s\n", withError(l.Centre.X, &centre, " px", false), withError(l.Centre.Y, &centre, " px", false))
	fmt.Fprintf(w, "radius    %s\n", withError(l.RadiusPx, &radius, " px", false))
	if l.Flattening != 0 {
		fmt.Fprintf(w, "flattened %.2f %%, short axis %.1f° counter-clockwise from up\n", 100*l.Flattening, l.ShortAxis.Degrees())
	}
	fmt.Fprintf(w, "limb      %.0f° of it, by %d points (%d left out), rms %.2f px", fit.ArcDeg, fit.Points, fit.Rejected, fit.RMSPx)
	if fit.WidthPx > 0 {
		fmt.Fprintf(w, ", %.1f px wide", fit.WidthPx)
	}
	fmt.Fprintln(w)
	if fit.Negative {
		fmt.Fprintln(w, "          the picture is a negative: brightness rises outward")
	}
	if fit.Saturated {
		fmt.Fprintln(w, "          the disc is burnt out at the limb: the radius is less certain than its error says")
	}
	return nil
}
