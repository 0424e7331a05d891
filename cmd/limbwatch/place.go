package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
)

// placeOptions are what "place" was told. Angles are in degrees, as typed.
type placeOptions struct {
	at           string
	disc         string
	northDeg     float64
	solarNorth   float64
	mirrored     bool
	limb         string
	height       string
	sigmaClickPx float64
	sigmaDiscPx  float64
	sigmaR       float64
	sigmaNorth   float64
	sigmaTimeS   float64
	sigmaLimbMm  float64
	rejects      string
	json, csv    bool
}

// pixelFlags go with pixels, and not with position angles.
var pixelFlags = []string{"disc", "north", "solar-north", "mirrored", "sigma-click-px", "sigma-disc-px"}

func newPlaceCommand(app *app) *cobra.Command {
	var opts placeOptions
	cmd := &cobra.Command{
		Use:   "place [X,Y ...]",
		Short: "Convert pixels, or position angles and radii, to places on the Sun; store nothing",
		Long: `Place converts points of a picture to heliographic positions, with errors, and
keeps nothing.

Points given as X,Y need --at, --disc and --north. Without points it reads CSV
from standard input, with a header line and one of two sets of columns:

  utc,pa_deg,r   position angle from celestial north through east, and distance
                 from the disc's centre in radii of the limb that --limb names
  utc,x,y        pixels, with --disc and --north for all of them

and writes CSV that repeats the columns it read and adds

  lat_deg, cmd_deg, lon_deg      latitude, central meridian distance (west
                                 positive), Carrington longitude, read as on
                                 the photosphere
  mu                             cosine between surface normal and line of sight
  sigma_lat_deg, sigma_lon_deg   standard errors (of the longitude itself),
                                 empty when every error is 0
  on_disc                        true or false
  height_arcsec                  above the limb that --limb names
  height_km                      above the photosphere, in km
  corr_lat_lon                   correlation of the two errors

Points off the disc have no place, but a height and a position angle. Between a
limb that lies above the photosphere and the photosphere's own limb a point is
on the visible disc and yet has no place on the photosphere. --height adds the
place of something that stands that high (corrected_… columns).

Times in the utc column are UTC, with or without a Z.`,
		Example: `  limbwatch place --at 2026-03-14T15:23:10Z --disc 1023.5,1020.1,890.2 --north 12.4 1310,702
  limbwatch place --limb chromosphere --sigma-r 0.002 < polar.csv > places.csv
  limbwatch place --disc 512,512,480 --north 0 --rejects bad.csv < pixels.csv`,
		RunE: func(cmd *cobra.Command, args []string) error {
			set := cmd.Flags().Changed
			layer, err := parseLimb(opts.limb)
			if err != nil {
				return err
			}
			layer.SigmaMm = opts.sigmaLimbMm
			height, err := parseHeight(opts.height)
			if err != nil {
				return err
			}
			for _, f := range []flagValue{{"north", opts.northDeg}, {"solar-north", opts.solarNorth}} {
				if !(math.Abs(f.value) <= 360) {
					return misuse("--%s %g: want -360 to 360 degrees", f.name, f.value)
				}
			}
			for _, f := range []flagValue{
				{"sigma-click-px", opts.sigmaClickPx}, {"sigma-disc-px", opts.sigmaDiscPx}, {"sigma-r", opts.sigmaR},
				{"sigma-north-deg", opts.sigmaNorth}, {"sigma-time-s", opts.sigmaTimeS}, {"sigma-limb-mm", opts.sigmaLimbMm},
			} {
				if !(f.value >= 0) || math.IsInf(f.value, 0) {
					return misuse("--%s %v: a standard error is 0 or more", f.name, f.value)
				}
			}
			p := placer{
				layer: layer, height: height, withHeight: opts.height != "", clickPx: opts.sigmaClickPx, sigmaR: opts.sigmaR,
				north:     coords.North{Mirrored: opts.mirrored, Sigma: coords.Angle(opts.sigmaNorth) * coords.Degree},
				sigmaTime: time.Duration(opts.sigmaTimeS * float64(time.Second)),
			}
			pixels := func() error { return p.usePixels(set, opts) }
			if len(args) > 0 {
				if set("sigma-r") || set("rejects") {
					return misuse("--sigma-r and --rejects go with CSV on standard input, not with points X,Y")
				}
				if !set("at") {
					return withHint(misuse("points X,Y need the time of their picture"), "add --at, like --at 2026-03-14T15:23:10Z")
				}
				at, err := parseInstant(opts.at)
				if err != nil {
					return &misuseError{err}
				}
				if err := pixels(); err != nil {
					return err
				}
				points, err := parsePoints(args)
				if err != nil {
					return err
				}
				return runPlacePoints(cmd.OutOrStdout(), &p, at, points, opts)
			}
			if set("at") || opts.json {
				return withHint(misuse("--at and --json go with points X,Y; CSV on standard input has a utc column and gives CSV"),
					"see limbwatch place --help")
			}
			return runPlaceStream(cmd.Context(), app, &p, opts.rejects, func(polar bool) error {
				if !polar {
					if set("sigma-r") {
						return misuse("--sigma-r goes with the columns pa_deg,r; pixels have --sigma-click-px")
					}
					return pixels()
				}
				for _, name := range pixelFlags {
					if set(name) {
						return misuse("--%s goes with pixels; with the columns pa_deg,r there is no picture", name)
					}
				}
				return nil
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&opts.at, "at", "", "`time` of the picture, as 2026-03-14T15:23:10Z")
	f.StringVar(&opts.disc, "disc", "", "centre and radius of the disc in pixels, as `X,Y,R`")
	f.Float64Var(&opts.northDeg, "north", 0, "where celestial north points, `degrees` counter-clockwise from up")
	f.Float64Var(&opts.solarNorth, "solar-north", 0, "instead of --north: where the Sun's north pole points, `degrees` counter-clockwise from up")
	f.BoolVar(&opts.mirrored, "mirrored", false, "the picture is mirrored: east lies clockwise of north")
	f.StringVar(&opts.limb, "limb", "photosphere", "which limb the disc's edge is: photosphere, chromosphere or its height in `Mm`")
	f.StringVar(&opts.height, "height", "", "also give the place of something that stands so high above the photosphere, in megametres, as `MM` or MM,SIGMA")
	f.Float64Var(&opts.sigmaClickPx, "sigma-click-px", 0.5, "standard error of a point along each axis, in `pixels`")
	f.Float64Var(&opts.sigmaDiscPx, "sigma-disc-px", 0, "standard error of the disc's centre along each axis, and of its radius, in `pixels`")
	f.Float64Var(&opts.sigmaR, "sigma-r", 0, "standard error of r, in `radii`")
	f.Float64Var(&opts.sigmaNorth, "sigma-north-deg", 0, "standard error of north (of the position angle), in `degrees`")
	f.Float64Var(&opts.sigmaTimeS, "sigma-time-s", 0, "standard error of the time, in `seconds`")
	f.Float64Var(&opts.sigmaLimbMm, "sigma-limb-mm", 0, "standard error of the height of the limb, in `Mm`")
	f.StringVar(&opts.rejects, "rejects", "", "write the rows that cannot be read to this `file` and go on")
	f.BoolVar(&opts.csv, "csv", false, "for points X,Y: write CSV")
	addJSONFlag(cmd, &opts.json)
	cmd.MarkFlagsMutuallyExclusive("north", "solar-north")
	cmd.MarkFlagsMutuallyExclusive("json", "csv")
	return cmd
}

// placer turns points into places.
type placer struct {
	layer      coords.Layer
	height     disc.Height
	withHeight bool
	clickPx    float64
	sigmaR     float64
	limb       coords.Limb
	north      coords.North
	solarNorth *coords.Angle // north is to be found from P
	sigmaTime  time.Duration

	sight  *disc.Sight            // of the instant it was turned to
	sights map[string]*disc.Sight // by the instant as written
}

// usePixels readies the placer for pixels; disc and north must have been typed.
func (p *placer) usePixels(set func(string) bool, opts placeOptions) error {
	if opts.disc == "" || !(set("north") || set("solar-north")) {
		return withHint(misuse("pixels need the disc and the north of their picture"),
			"add --disc X,Y,R and --north DEG (or --solar-north DEG)")
	}
	limb, err := parseDisc("disc", opts.disc)
	if err != nil {
		return err
	}
	variance := opts.sigmaDiscPx * opts.sigmaDiscPx
	limb.Cov = coords.LimbCovariance{XX: variance, YY: variance, RR: variance}
	p.limb = limb
	p.north.Angle = coords.Angle(opts.northDeg) * coords.Degree
	if set("solar-north") {
		turn := coords.Angle(opts.solarNorth) * coords.Degree
		p.solarNorth = &turn
	}
	return nil
}

// turnTo readies the placer for an instant.
func (p *placer) turnTo(at time.Time) error {
	if err := ephemeris.Check(at); err != nil {
		return err
	}
	face := ephemeris.At(at)
	north := p.north
	if p.solarNorth != nil {
		north.Angle = *p.solarNorth - face.P
		if north.Mirrored {
			north.Angle = *p.solarNorth + face.P
		}
	}
	p.sight = disc.View{Limb: p.limb, Layer: p.layer, North: north, Face: face, SigmaTime: p.sigmaTime}.Sight()
	return nil
}

// turnToWritten readies the placer for an instant as a column utc has it. Many rows are
// of one picture, whatever their order.
func (p *placer) turnToWritten(utc string) error {
	const most = 1 << 15 // some 15 MB
	if sight, ok := p.sights[utc]; ok {
		p.sight = sight
		return nil
	}
	at, err := parseUTC(utc)
	if err != nil {
		return err
	}
	if err := p.turnTo(at); err != nil {
		return err
	}
	if p.sights == nil || len(p.sights) == most {
		p.sights = make(map[string]*disc.Sight)
	}
	p.sights[strings.Clone(utc)] = p.sight
	return nil
}

// parseLimb reads which limb is meant. The height so named is taken as exact.
func parseLimb(text string) (coords.Layer, error) {
	switch text {
	case "photosphere":
		return coords.Photosphere, nil
	case "chromosphere":
		return coords.Layer{HeightMm: coords.Chromosphere.HeightMm}, nil
	}
	mm, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(mm) || mm < -1 || mm > 100 {
		return coords.Layer{}, misuse("--limb %q: want photosphere, chromosphere or a height from -1 to 100 Mm", text)
	}
	return coords.Layer{HeightMm: mm}, nil
}

// parseMeasuredLimb reads a limb with its error: a name, or MM,SIGMA.
func parseMeasuredLimb(flag, text string) (*coords.Layer, error) {
	switch text {
	case "photosphere":
		return &coords.Layer{}, nil
	case "chromosphere":
		layer := coords.Chromosphere
		return &layer, nil
	}
	v, err := parseNumbers(text)
	if err != nil || len(v) != 2 || v[1] <= 0 {
		return nil, misuse("--%s %q: want photosphere, chromosphere, or height and error as MM,SIGMA, the error more than 0", flag, text)
	}
	return &coords.Layer{HeightMm: v[0], SigmaMm: v[1]}, nil
}

// highestMm is what the catalogue takes for the height of a mark at most.
const highestMm = 5000.0

// parseHeight reads "MM" or "MM,SIGMA"; nothing is the photosphere.
func parseHeight(text string) (disc.Height, error) {
	if text == "" {
		return disc.Height{}, nil
	}
	v, err := parseNumbers(text)
	if err != nil || len(v) > 2 || v[0] < 0 || len(v) == 2 && v[1] < 0 {
		return disc.Height{}, misuse("--height %q: want MM or MM,SIGMA, both 0 or more", text)
	}
	if v[0] > highestMm {
		return disc.Height{}, misuse("height %g: want 0 to %g Mm above the photosphere", v[0], highestMm)
	}
	h := disc.Height{Mm: v[0]}
	if len(v) == 2 {
		h.SigmaMm = v[1]
	}
	return h, nil
}

// parseDisc reads a circle typed as X,Y,R behind a flag.
func parseDisc(flag, text string) (coords.Limb, error) {
	v, err := parseNumbers(text)
	if err != nil || len(v) != 3 {
		return coords.Limb{}, misuse("--%s %q: want centre and radius in pixels, as X,Y,R", flag, text)
	}
	if !(v[2] >= 3 && v[2] <= 100_000) { // as of a disc that is kept
		return coords.Limb{}, misuse("--%s %q: radius %g px: want 3 to 100000", flag, text, v[2])
	}
	if reach := 200_000.0; math.Abs(v[0]) > reach || math.Abs(v[1]) > reach {
		return coords.Limb{}, misuse("--%s %q: centre (%g, %g) px: want -%g to %g", flag, text, v[0], v[1], reach, reach)
	}
	return coords.Limb{Centre: coords.Pixel{X: v[0], Y: v[1]}, RadiusPx: v[2]}, nil
}

// parsePoints reads points typed as X,Y.
func parsePoints(texts []string) ([]coords.Pixel, error) {
	points := make([]coords.Pixel, len(texts))
	for i, text := range texts {
		v, err := parseNumbers(text)
		if err != nil || len(v) != 2 {
			return nil, misuse("point %q: want pixels as X,Y", text)
		}
		points[i] = coords.Pixel{X: v[0], Y: v[1]}
	}
	return points, nil
}

// parseNumbers reads finite numbers with commas between them.
func parseNumbers(text string) ([]float64, error) {
	parts := strings.Split(text, ",")
	numbers := make([]float64, len(parts))
	for i, part := range parts {
		v, err := parseFinite(part)
		if err != nil {
			return nil, err
		}
		numbers[i] = v
	}
	return numbers, nil
}

var errNotFinite = errors.New("is not a number")

func parseFinite(text string) (float64, error) {
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q %w", text, errNotFinite)
	}
	return v, nil
}

func runPlacePoints(w io.Writer, p *placer, at time.Time, points []coords.Pixel, opts placeOptions) error {
	if err := p.turnTo(at); err != nil {
		return err
	}
	rows := make([]placeRow, len(points))
	for i, point := range points {
		place := p.sight.Place(point, p.clickPx, p.height)
		rows[i] = newPlaceRow(&place, p.withHeight)
		rows[i].UTC, rows[i].X, rows[i].Y = formatUTC(at), optionalOf(point.X), optionalOf(point.Y)
	}
	switch {
	case opts.json:
		return printJSON(w, rows)
	case opts.csv:
		return writePlaceCSV(w, rows, p.withHeight)
	}
	if err := printPlaces(w, rows); err != nil {
		return err
	}
	if opts.sigmaDiscPx == 0 && opts.sigmaNorth == 0 && opts.sigmaTimeS == 0 && opts.sigmaLimbMm == 0 {
		_, err := fmt.Fprintln(w, "The errors are those of the click alone: disc, its limb, north and time are taken as\nexact. --sigma-disc-px, --sigma-limb-mm, --sigma-north-deg and --sigma-time-s say else.")
		return err
	}
	return nil
}
