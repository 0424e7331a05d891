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

Where several round edges stand about the Sun, as of a stop, a mask or a halo, they are
weighed by what they bound; one is taken when its odds are 0.9 or more, and they are
listed with their numbers.

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
	// Circles are the round edges that were weighed, when there were several.
	Circles []foundCircle `json:"circles,omitempty"`
}

// foundCircle is one of several round edges; odds is the probability that it is the
// Sun's.
type foundCircle struct {
	Number        int      `json:"number"`
	CentreXPx     float64  `json:"centre_x_px"`
	CentreYPx     float64  `json:"centre_y_px"`
	RadiusPx      float64  `json:"radius_px"`
	SigmaCentrePx float64  `json:"sigma_centre_px"`
	SigmaRadiusPx float64  `json:"sigma_radius_px"`
	Odds          *float64 `json:"odds,omitempty"`
}

func newFoundDisc(f limb.Fit) foundDisc {
	l := f.Limb
	centre, radius := l.Cov.SigmaCentrePx(), l.Cov.SigmaRadiusPx()
	found := foundDisc{
		CentreXPx: &l.Centre.X, CentreYPx: &l.Centre.Y, RadiusPx: &l.RadiusPx,
		SigmaCentrePx: &centre, SigmaRadiusPx: &radius,
		RMSPx: &f.RMSPx, ArcDeg: &f.ArcDeg, LimbWidthPx: &f.WidthPx,
		Points: f.Points, Rejected: f.Rejected, Negative: f.Negative, Verdict: "accepted",
		Circles: newFoundCircles(f.Rivals),
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
			if len(refused.Rivals) > 0 {
				if err := printCircles(w, refused.Rivals); err != nil {
					return err
				}
				return withHint(err, "add the frame, then take the Sun's, as in limbwatch disc set F1 --circle 1")
			}
			return withHint(err, "add the frame, then type three or more limb points with limbwatch disc set")
		}
		if err := printJSON(w, foundDisc{Verdict: "refused", Reason: refused.Reason, Circles: newFoundCircles(refused.Rivals)}); err != nil {
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
	if err := printFit(w, pic, fit); err != nil {
		return err
	}
	return printCircles(w, fit.Rivals)
}

// newFoundCircles numbers the round edges that were weighed.
func newFoundCircles(rivals []limb.Rival) []foundCircle {
	var all []foundCircle
	for i, r := range rivals {
		l := r.Limb
		all = append(all, foundCircle{
			Number: i + 1, CentreXPx: l.Centre.X, CentreYPx: l.Centre.Y, RadiusPx: l.RadiusPx,
			SigmaCentrePx: l.Cov.SigmaCentrePx(), SigmaRadiusPx: l.Cov.SigmaRadiusPx(), Odds: r.Odds,
		})
	}
	return all
}

// printCircles lists them; nothing where there was no question which is the Sun's.
func printCircles(w io.Writer, rivals []limb.Rival) error {
	for i, r := range rivals {
		l := r.Limb
		centre, radius := l.Cov.SigmaCentrePx(), l.Cov.SigmaRadiusPx()
		odds := ""
		if r.Odds != nil {
			odds = fmt.Sprintf(": the Sun's by %.2f", *r.Odds)
		}
		if _, err := fmt.Fprintf(w, "circle %d  x %s, y %s, radius %s%s\n", i+1,
			withError(l.Centre.X, &centre, " px", false), withError(l.Centre.Y, &centre, " px", false), withError(l.RadiusPx, &radius, " px", false), odds); err != nil {
			return err
		}
	}
	return nil
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
