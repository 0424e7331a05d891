package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/chart"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/catalog/gather"
	"limbwatch/catalog/observe"
)

func newChartCommand(app *app) *cobra.Command {
	return group("chart", "Draw discs, maps, latitudes, numbers, passages, rates and what is coming", "",
		newChartDiscCommand(app),
		newChartMapCommand(app),
		newChartLatitudesCommand(app),
		newChartNumbersCommand(app),
		newChartPassageCommand(app),
		newChartRatesCommand(app),
		newChartComingCommand(app),
	)
}

// What chart draws.
const (
	narrowestPx = 320
	widestPx    = 4000
)

// sheetOptions are what every chart can be told.
type sheetOptions struct {
	out, theme string
	width      float64
	force      bool
}

func (o *sheetOptions) addFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&o.out, "out", "", "the `file` to write, .svg or .png")
	f.StringVar(&o.theme, "theme", "paper", "the `theme`: paper, day or night")
	f.Float64Var(&o.width, "width", 0, "width of the sheet in `pixels` (default: what suits the chart)")
	f.BoolVar(&o.force, "force", false, "write over a file that is there")
	if err := cmd.MarkFlagRequired("out"); err != nil {
		panic(err) // the flag is defined above
	}
}

// draw makes the chart and writes it to its file, all of it or nothing. Of one that is
// empty it says so: how is what was not found, and what to do.
func (o *sheetOptions) draw(cmd *cobra.Command, k observe.Keeper, empty bool, how string, make func(chart.Options) (*canvas.Canvas, error)) error {
	format, err := chart.ParseFormat(strings.TrimPrefix(strings.ToLower(filepath.Ext(o.out)), "."))
	if err != nil {
		return misuse("--out %q: want a file name that ends in .svg or .png", o.out)
	}
	if cmd.Flags().Changed("width") && !(o.width >= narrowestPx && o.width <= widestPx) {
		return misuse("--width %g: want %d to %d pixels", o.width, narrowestPx, widestPx)
	}
	theme, err := chart.ParseTheme(o.theme)
	if err != nil {
		return &misuseError{err}
	}
	opts := chart.Options{Theme: theme, Width: o.width, Program: programName()}
	drawn, err := make(opts)
	if err != nil {
		return err
	}
	var file bytes.Buffer
	if err := chart.Write(&file, drawn, format, opts); err != nil {
		return err
	}
	if err := writeNew(cmd.Context(), k, o.out, file.Bytes(), o.force); err != nil {
		return err
	}
	if empty {
		fmt.Fprintf(cmd.ErrOrStderr(), "limbwatch: note: an empty chart: %s\n", how)
	}
	_, err = fmt.Fprintln(cmd.OutOrStdout(), o.out)
	return err
}

func newChartDiscCommand(app *app) *cobra.Command {
	var sheet sheetOptions
	var up string
	var noGrid, carrington, noLabels bool
	cmd := &cobra.Command{
		Use:   "disc FRAME",
		Short: "Draw a frame's disc with limb, grid, directions and the marks with their names",
		Example: `  limbwatch chart disc F3 --out disc.svg
  limbwatch chart disc F3 --up taken --theme night --out disc.png`,
		Args: cobra.ExactArgs(1),
		RunE: withID(app, parseFrame, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, id catalog.FrameID) error {
			o := gather.DiscOptions{Frame: id, NoGrid: noGrid, Carrington: carrington, NoLabels: noLabels}
			switch up {
			case "solar":
			case "celestial":
				o.Up = chart.CelestialNorthUp
			case "taken":
				o.Up = chart.AsTaken
			default:
				return misuse("--up %q: want solar, celestial or taken", up)
			}
			in, err := gather.Disc(ctx, k, o)
			if _, notPlaced := errors.AsType[*gather.NotPlacedError](err); notPlaced {
				return withHint(err, "see limbwatch frame show %s", id)
			} else if err != nil {
				return err
			}
			how := fmt.Sprintf("no mark on %s: limbwatch mark add KIND --frame %s --point X,Y", id, id)
			return sheet.draw(cmd, k, len(in.Entries) == 0, how, func(o chart.Options) (*canvas.Canvas, error) { return chart.Disc(in, o) })
		}),
	}
	f := cmd.Flags()
	f.StringVar(&up, "up", "solar", "the `north` that lies at the top: solar, celestial, or taken (as the picture is)")
	f.BoolVar(&noGrid, "no-grid", false, "leave out the grid")
	f.BoolVar(&carrington, "carrington", false, "number the grid by Carrington longitude")
	f.BoolVar(&noLabels, "no-labels", false, "leave out the names")
	sheet.addFlags(cmd)
	return cmd
}
