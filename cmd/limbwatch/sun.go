package main

import (
	"bufio"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"limbwatch/coords/ephemeris"
)

type sunOptions struct {
	at    string
	times string
	place sitePlace
	json  bool
}

func newSunCommand(app *app) *cobra.Command {
	var opts sunOptions
	cmd := &cobra.Command{
		Use:   "sun",
		Short: "Tell how the Sun is turned at an instant: P, B0, L0, rotation, size, place in the sky",
		Long: `Sun tells how the Sun is turned toward the Earth at an instant:

  P    position angle of its north pole, from celestial north, east positive
  B0   heliographic latitude of the disc's centre
  L0   Carrington longitude of the disc's centre
  the Carrington rotation with its fraction, semidiameter of the photosphere
  (695 700 km), distance, apparent right ascension and declination

and, for a site, altitude (without refraction), azimuth (from north through
east) and the parallactic angle.

With --times it reads one UTC instant a line and writes CSV.`,
		Example: `  limbwatch sun
  limbwatch sun --at 2026-03-14T15:23:10Z --json
  limbwatch sun --at "2026-03-14 15:23 UTC" --site-lat 51.5 --site-lon -1.3
  limbwatch sun --times instants.txt > sun.csv`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			site, err := opts.place.resolve(cmd.Context(), app)
			if err != nil {
				return err
			}
			if opts.times != "" {
				if opts.at != "" || opts.json {
					return misuse("--times writes CSV for a list of instants; it goes with neither --at nor --json")
				}
				return runSunBatch(cmd.Context(), app, opts.times, site)
			}
			at := app.now()
			if opts.at != "" {
				if at, err = parseInstant(opts.at); err != nil {
					return &misuseError{err}
				}
			}
			return runSun(cmd.OutOrStdout(), at, site, opts.json)
		},
	}
	cmd.Flags().StringVar(&opts.at, "at", "", "the `time`, as 2026-03-14T15:23:10Z (default: now)")
	cmd.Flags().StringVar(&opts.times, "times", "", "`file` with one UTC instant a line, or - for standard input; CSV comes out")
	opts.place.addFlags(cmd)
	addJSONFlag(cmd, &opts.json)
	return cmd
}

// sunRow is the Sun at an instant as machines read it; the JSON and the CSV
// names are the same.
type sunRow struct {
	UTC                string   `json:"utc"`
	PDeg               float64  `json:"p_deg"`
	B0Deg              float64  `json:"b0_deg"`
	L0Deg              float64  `json:"l0_deg"`
	Rotation           float64  `json:"rotation"`
	SemidiameterArcsec float64  `json:"semidiameter_arcsec"`
	DistanceAU         float64  `json:"distance_au"`
	RADeg              float64  `json:"ra_deg"`
	DecDeg             float64  `json:"dec_deg"`
	AltitudeDeg        *float64 `json:"altitude_deg,omitempty"`
	AzimuthDeg         *float64 `json:"azimuth_deg,omitempty"`
	ParallacticDeg     *float64 `json:"parallactic_deg,omitempty"`
}

var (
	sunColumns  = []string{"utc", "p_deg", "b0_deg", "l0_deg", "rotation", "semidiameter_arcsec", "distance_au", "ra_deg", "dec_deg"}
	siteColumns = []string{"altitude_deg", "azimuth_deg", "parallactic_deg"}
)

func newSunRow(at time.Time, site *geodetic) sunRow {
	sun := ephemeris.SunAt(at)
	row := sunRow{
		UTC:                formatUTC(at),
		PDeg:               sun.Face.P.Degrees(),
		B0Deg:              sun.Face.B0.Degrees(),
		L0Deg:              sun.Face.L0.Degrees(),
		Rotation:           sun.Rotation,
		SemidiameterArcsec: sun.Face.Semidiameter.Arcseconds(),
		DistanceAU:         sun.Face.DistanceAU,
		RADeg:              sun.RA.Wrap360().Degrees(),
		DecDeg:             sun.Dec.Degrees(),
	}
	if site != nil {
		sky := ephemeris.FromSite(at, site.lat, site.lonEast)
		alt, az, q := sky.Altitude.Degrees(), sky.Azimuth.Wrap360().Degrees(), sky.Parallactic.Degrees()
		row.AltitudeDeg, row.AzimuthDeg, row.ParallacticDeg = &alt, &az, &q
	}
	return row
}

// fields are the row's values in the order of sunColumns, then siteColumns.
func (r sunRow) fields(dst []string) []string {
	dst = append(dst[:0], r.UTC)
	for _, v := range []float64{r.PDeg, r.B0Deg, r.L0Deg, r.Rotation, r.SemidiameterArcsec, r.DistanceAU, r.RADeg, r.DecDeg} {
		dst = append(dst, machineNumber(v))
	}
	if r.AltitudeDeg != nil {
		dst = append(dst, machineNumber(*r.AltitudeDeg), machineNumber(*r.AzimuthDeg), machineNumber(*r.ParallacticDeg))
	}
	return dst
}

func runSun(w io.Writer, at time.Time, site *geodetic, asJSON bool) error {
	if err := ephemeris.Check(at); err != nil {
		return err
	}
	row := newSunRow(at, site)
	if asJSON {
		return printJSON(w, row)
	}
	fmt.Fprintf(w, "Sun on %s\n", at.UTC().Format("2 January 2006, 15:04:05 UTC"))
	fmt.Fprintf(w, "  P             %+8.3f°   pole from celestial north, east positive\n", row.PDeg)
	fmt.Fprintf(w, "  B0            %+8.3f°   latitude of the disc's centre\n", row.B0Deg)
	fmt.Fprintf(w, "  L0            %8.3f°   Carrington longitude of the disc's centre\n", row.L0Deg)
	fmt.Fprintf(w, "  rotation      %9.4f   Carrington\n", row.Rotation)
	fmt.Fprintf(w, "  semidiameter  %7.2f″    of the photosphere\n", row.SemidiameterArcsec)
	fmt.Fprintf(w, "  distance      %9.5f   astronomical units\n", row.DistanceAU)
	fmt.Fprintf(w, "  RA, Dec       %s  %s   apparent\n", hms(row.RADeg), dms(row.DecDeg))
	if row.AltitudeDeg != nil {
		fmt.Fprintf(w, "  altitude      %+8.3f°   without refraction\n", *row.AltitudeDeg)
		fmt.Fprintf(w, "  azimuth       %8.3f°   from north through east\n", *row.AzimuthDeg)
		fmt.Fprintf(w, "  parallactic   %+8.3f°   position angle of the zenith\n", *row.ParallacticDeg)
	}
	return nil
}

// runSunBatch turns a list of instants into CSV, row by row, so that a long
// list needs no memory.
func runSunBatch(ctx context.Context, app *app, path string, site *geodetic) error {
	in, _, err := app.openInput(path, "a file with one instant a line")
	if err != nil {
		return err
	}
	defer in.Close()
	out := csv.NewWriter(app.stdout)
	header := sunColumns
	if site != nil {
		header = append(append([]string{}, sunColumns...), siteColumns...)
	}
	if err := out.Write(header); err != nil {
		return err
	}
	var fields []string
	lines := bufio.NewScanner(in)
	number := 1
	for ; lines.Scan(); number++ {
		if err := ctx.Err(); err != nil {
			out.Flush()
			return err
		}
		text := strings.TrimSpace(strings.TrimPrefix(lines.Text(), "\ufeff"))
		if text == "" {
			continue
		}
		at, err := parseUTC(text)
		if err == nil {
			err = ephemeris.Check(at)
		}
		if err != nil {
			out.Flush()
			return withHint(fmt.Errorf("line %d: %w", number, err), "one UTC instant a line, and nothing else")
		}
		fields = newSunRow(at, site).fields(fields)
		if err := out.Write(fields); err != nil {
			return err
		}
	}
	out.Flush()
	if err := lines.Err(); errors.Is(err, bufio.ErrTooLong) {
		return withHint(fmt.Errorf("line %d has more than %d bytes", number, bufio.MaxScanTokenSize), "one UTC instant a line, and nothing else")
	} else if err != nil {
		return fmt.Errorf("reading instants: %w", err)
	}
	return out.Error()
}

// hms writes a right ascension in hours, minutes and seconds.
func hms(deg float64) string {
	tenths := int64(deg/15*36000+0.5) % (24 * 36000)
	return fmt.Sprintf("%02dh %02dm %04.1fs", tenths/36000, tenths/600%60, float64(tenths%600)/10)
}

// dms writes a declination in degrees, minutes and seconds.
func dms(deg float64) string {
	sign := '+'
	if deg < 0 {
		sign, deg = '-', -deg
	}
	seconds := int64(deg*3600 + 0.5)
	return fmt.Sprintf("%c%02d° %02d′ %02d″", sign, seconds/3600, seconds/60%60, seconds%60)
}
