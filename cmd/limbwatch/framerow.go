package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
	"limbwatch/catalog/observe"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// frameRow is a frame with its disc and north, as JSON names it.
type frameRow struct {
	Frame       catalog.FrameID `json:"frame"`
	UUID        string          `json:"uuid"`
	Revision    int64           `json:"revision"`
	UTC         string          `json:"utc"` // middle of the exposure, clock corrected
	TakenUTC    string          `json:"taken_utc"`
	Moment      string          `json:"moment"`
	ExposureS   *float64        `json:"exposure_s"`
	SigmaTimeS  *float64        `json:"sigma_time_s"`
	TimeSource  string          `json:"time_source"`
	Zone        string          `json:"zone"`
	Role        string          `json:"role"`
	Path        string          `json:"path"`
	SHA256      string          `json:"sha256"`
	WidthPx     int             `json:"width_px"`
	HeightPx    int             `json:"height_px"`
	Channel     string          `json:"channel"`
	Reference   bool            `json:"reference"`
	Sitting     string          `json:"sitting"`
	Moved       bool            `json:"moved,omitempty"`
	Disc        *discRow        `json:"disc"`
	DiscRefused string          `json:"disc_refused,omitempty"`
	DiscCircles []foundCircle   `json:"disc_circles,omitempty"`
	Warnings    []warningRow    `json:"warnings"`
	North       *northRow       `json:"north"`
	PDeg        float64         `json:"p_deg"`
	B0Deg       float64         `json:"b0_deg"`
	L0Deg       float64         `json:"l0_deg"`
	Note        string          `json:"note"`
}

// discRow is a frame's disc as JSON names it.
type discRow struct {
	Disc          catalog.DiscID   `json:"disc"`
	Revision      int64            `json:"revision"`
	CentreXPx     float64          `json:"centre_x_px"`
	CentreYPx     float64          `json:"centre_y_px"`
	RadiusPx      float64          `json:"radius_px"`
	Flattening    float64          `json:"flattening"`
	ShortAxisDeg  float64          `json:"short_axis_deg"`
	SigmaCentrePx float64          `json:"sigma_centre_px"`
	SigmaRadiusPx float64          `json:"sigma_radius_px"`
	RMSPx         *float64         `json:"rms_px"`
	ArcDeg        *float64         `json:"arc_deg"`
	LimbWidthPx   *float64         `json:"limb_width_px"`
	ArcsecPerPx   float64          `json:"arcsec_per_px"`
	LimbMm        field.Megametres `json:"limb_km"`
	SigmaLimbMm   field.Megametres `json:"sigma_limb_km"`
	LimbFrom      string           `json:"limb_from"`
	Method        string           `json:"method"`
	Accepted      bool             `json:"accepted"`
	Note          string           `json:"note"`
}

// northRow is a frame's north as JSON names it. north_deg is celestial north,
// whatever direction was found.
type northRow struct {
	North         catalog.NorthID `json:"north"`
	Revision      int64           `json:"revision"`
	NorthDeg      *float64        `json:"north_deg"`
	Mirrored      bool            `json:"mirrored"`
	SigmaNorthDeg float64         `json:"sigma_north_deg"`
	Toward        string          `json:"toward"`
	AngleDeg      float64         `json:"angle_deg"`
	Method        string          `json:"method"`
	ParityOdds    *float64        `json:"parity_odds"`
	Note          string          `json:"note"`
}

// frameRowOf gathers what is known of a frame.
func frameRowOf(ctx context.Context, k observe.Keeper, id catalog.FrameID) (frameRow, error) {
	b, err := k.Store.Read(ctx).Bearings(id)
	if err != nil {
		return frameRow{}, err
	}
	f := b.Frame
	at := f.Middle(b.ClockCorrectionS)
	face := ephemeris.At(at)
	row := frameRow{
		Frame: f.ID, UUID: f.UUID.String(), Revision: f.Revision,
		UTC: formatUTC(at), TakenUTC: formatUTC(f.Taken), Moment: f.Moment.String(),
		ExposureS: known(f.ExposureS), SigmaTimeS: known(f.SigmaS), TimeSource: f.TimeSource, Zone: f.Zone,
		Role: f.Role.String(), Path: f.Path, SHA256: f.SHA256, WidthPx: f.WidthPx, HeightPx: f.HeightPx,
		Channel: f.Channel, Reference: f.Reference, Note: f.Note,
		PDeg: face.P.Degrees(), B0Deg: face.B0.Degrees(), L0Deg: face.L0.Degrees(),
	}
	if f.Sitting != 0 {
		row.Sitting = f.Sitting.String()
	}
	if d := b.Disc; d != nil {
		row.Disc = newDiscRow(*d, face.Semidiameter.Arcseconds())
	}
	if n := b.North; n != nil {
		row.North = &northRow{
			North: n.ID, Revision: n.Revision, Mirrored: n.Mirrored, SigmaNorthDeg: n.Sigma.Degrees(),
			Toward: n.Toward.String(), AngleDeg: n.Angle.Degrees(), Method: n.Method, ParityOdds: known(n.Parity), Note: n.Note,
		}
		view, err := observe.ViewOf(b)
		switch {
		case err == nil:
			row.North.NorthDeg = degrees(view.North.Angle.Wrap180())
		case !errors.Is(err, observe.ErrNoDisc) && !errors.Is(err, observe.ErrNoSite):
			return row, err
		}
	}
	row.Warnings, err = warningRowsOf(ctx, k, id)
	return row, err
}

func newDiscRow(d catalog.Disc, semidiameterArcsec float64) *discRow {
	return &discRow{
		Disc: d.ID, Revision: d.Revision, CentreXPx: d.Limb.Centre.X, CentreYPx: d.Limb.Centre.Y, RadiusPx: d.Limb.RadiusPx,
		Flattening: d.Limb.Flattening, ShortAxisDeg: d.Limb.ShortAxis.Degrees(),
		SigmaCentrePx: d.Limb.Cov.SigmaCentrePx(), SigmaRadiusPx: d.Limb.Cov.SigmaRadiusPx(),
		RMSPx: known(d.RMSPx), ArcDeg: known(d.ArcDeg), LimbWidthPx: known(d.WidthPx),
		ArcsecPerPx: semidiameterArcsec * (1 + d.Layer.HeightMm/coords.SolarRadiusMm) / d.Limb.RadiusPx,
		LimbMm:      field.Megametres(d.Layer.HeightMm), SigmaLimbMm: field.Megametres(d.Layer.SigmaMm), LimbFrom: d.LayerFrom.String(),
		Method: d.Method.String(), Accepted: d.Accepted, Note: d.Note,
	}
}

// limbInWords says which limb the disc is the edge of.
func (d *discRow) limbInWords() string {
	if d.LimbMm == 0 && d.SigmaLimbMm == 0 {
		return "its limb is the photosphere's"
	}
	return fmt.Sprintf("its limb lies %s above the photosphere", layerText(coords.Layer{HeightMm: float64(d.LimbMm), SigmaMm: float64(d.SigmaLimbMm)}))
}

func (r *frameRow) discInShort() string {
	if r.Disc == nil {
		return "none"
	}
	return fmt.Sprintf("%.1f, %.1f, R %.1f px", r.Disc.CentreXPx, r.Disc.CentreYPx, r.Disc.RadiusPx)
}

func (r *frameRow) northInShort() string {
	switch n := r.North; {
	case n == nil:
		return "none"
	case n.NorthDeg == nil:
		return fmt.Sprintf("%s at %s", n.Toward, withError(n.AngleDeg, &n.SigmaNorthDeg, "°", true))
	default:
		text := withError(*n.NorthDeg, &n.SigmaNorthDeg, "°", true)
		if n.Mirrored {
			text += " mirrored"
		}
		return text
	}
}

func (r *frameRow) pictureInShort() string {
	switch {
	case r.Path == "":
		return "(no picture)"
	case r.Reference:
		return filepath.Base(r.Path) + " (reference)"
	}
	return filepath.Base(r.Path)
}

// printFrame shows a frame for people.
func printFrame(w io.Writer, r frameRow) error {
	fmt.Fprintf(w, "%s  %s\n", r.Frame, r.pictureInShort())
	if r.Moved {
		fmt.Fprintln(w, "    was known under another path; it is found again")
	}
	moment := r.Moment
	if moment == "" {
		moment = "taken as middle"
	}
	fmt.Fprintf(w, "    time    %s, %s", r.TakenUTC, moment)
	if r.ExposureS != nil {
		fmt.Fprintf(w, " of %g s", *r.ExposureS)
	}
	fmt.Fprintf(w, " (%s, zone %s)\n", r.TimeSource, r.Zone)
	if r.Role != "" {
		fmt.Fprintf(w, "    role    %s\n", r.Role)
	}
	fmt.Fprintf(w, "    Sun     P %+.2f°  B0 %+.2f°  L0 %.2f° at %s\n", r.PDeg, r.B0Deg, r.L0Deg, r.UTC)
	switch d := r.Disc; {
	case d != nil:
		fmt.Fprintf(w, "    disc    centre x %s, y %s, radius %s (%s)\n", withError(d.CentreXPx, &d.SigmaCentrePx, "", false),
			withError(d.CentreYPx, &d.SigmaCentrePx, " px", false), withError(d.RadiusPx, &d.SigmaRadiusPx, " px", false), d.Method)
		if d.LimbWidthPx != nil {
			fmt.Fprintf(w, "            %.3f ″/px, limb %.1f px = %.1f″ wide", d.ArcsecPerPx, *d.LimbWidthPx, *d.LimbWidthPx*d.ArcsecPerPx)
			if d.ArcDeg != nil {
				fmt.Fprintf(w, ", seen along %.0f°", *d.ArcDeg)
			}
			fmt.Fprintln(w)
		}
		fmt.Fprintf(w, "            %s (%s)\n", d.limbInWords(), d.LimbFrom)
	case r.DiscRefused != "":
		fmt.Fprintf(w, "    disc    none: %s\n", r.DiscRefused)
		for _, c := range r.DiscCircles {
			fmt.Fprintf(w, "            circle %d, radius %s: limbwatch disc set %s --circle %d\n", c.Number, withError(c.RadiusPx, &c.SigmaRadiusPx, " px", false), r.Frame, c.Number)
		}
		fmt.Fprintf(w, "            type limb points: limbwatch disc set %s X,Y X,Y X,Y\n", r.Frame)
	default:
		fmt.Fprintln(w, "    disc    none")
	}
	if r.North != nil {
		fmt.Fprintf(w, "    north   %s (%s)\n", r.northInShort(), r.North.Method)
		if r.North.Note != "" {
			fmt.Fprintf(w, "            %s\n", onOneLine(r.North.Note))
		}
	} else if r.Path != "" {
		fmt.Fprintf(w, "    north   none yet: limbwatch north set %s\n", r.Frame)
	}
	if r.Note != "" {
		fmt.Fprintf(w, "    note    %s\n", onOneLine(r.Note))
	}
	printWarnings(w, r)
	return nil
}
