package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"

	"github.com/spf13/cobra"
	"golang.org/x/sync/errgroup"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/wholefile"
	"limbwatch/coords/paint"
)

func newDemoCommand(app *app) *cobra.Command {
	var folder string
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Try it on painted days: an invented observer's month, from pictures to a log",
		Long: `Demo paints the pictures of an invented observer's month (single and double stack,
one of them mirrored, with days of cloud) into a new folder, and works them up as a
person would: it finds each disc, sets north, marks what is to be seen, follows it
from day to day, and prints the log with the errors against the painter's truth.
The catalogue stays in the folder for you to play with.`,
		Example: "  limbwatch demo\n  limbwatch demo --folder painted",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if app.catalogPath != "" {
				return misuse("--catalogue: the demo makes a catalogue of its own; name its folder with --folder")
			}
			return runDemo(cmd.Context(), app, folder)
		},
	}
	cmd.Flags().StringVar(&folder, "folder", "", "a new `folder` for pictures and catalogue (default: limbwatch-demo, here)")
	return cmd
}

// demoFolder makes the demo's folder. One that is there is not touched.
func demoFolder(named string) (string, error) {
	if named != "" {
		if err := os.Mkdir(named, 0o755); errors.Is(err, os.ErrExist) {
			return "", withHint(fmt.Errorf("folder %q is there already", named), "name another one with --folder")
		} else if err != nil {
			return "", err
		}
		return filepath.Abs(named)
	}
	for n := 1; ; n++ {
		name := "limbwatch-demo"
		if n > 1 {
			name = fmt.Sprintf("limbwatch-demo-%d", n)
		}
		err := os.Mkdir(name, 0o755)
		if errors.Is(err, os.ErrExist) {
			continue
		}
		if err != nil {
			return "", err
		}
		return filepath.Abs(name)
	}
}

// runDemo paints, works the pictures up, and tells how well that went.
func runDemo(ctx context.Context, app *app, named string) error {
	folder, err := demoFolder(named)
	if err != nil {
		return err
	}
	w := app.stdout
	shots := demoShots()
	fmt.Fprintf(w, "Painting %d pictures of an invented Sun into %s\n", len(shots), folder)
	truths, err := paintShots(ctx, app.stderr, folder, shots)
	if err != nil {
		return err
	}
	path := filepath.Join(folder, "catalogue.db")
	k, err := observe.Open(ctx, path, catalog.Terminal, app.now)
	if err != nil {
		return err
	}
	defer k.Close()
	fmt.Fprintln(w, "Working them up: disc, north, marks")
	work := demoWork{k: k, folder: folder, labels: map[catalog.MarkID]string{}, truth: map[catalog.MarkID]paint.Mark{}}
	if err := work.all(ctx, app.stderr, shots, truths); err != nil {
		return err
	}
	if _, err := k.TrackFollow(ctx, observe.FollowOptions{}); err != nil {
		return err
	}
	if err := runLog(ctx, w, k, &logOptions{}); err != nil {
		return err
	}
	if err := work.report(ctx, w); err != nil {
		return err
	}
	if err := work.story(ctx, w); err != nil {
		return err
	}
	return demoNext(w, folder, path, work.hero)
}

// paintShots paints the pictures, on all cores, and gives what the painter knows.
func paintShots(ctx context.Context, stderr io.Writer, folder string, shots []demoShot) ([]paint.Truth, error) {
	sun := demoSun()
	bar := newBar(stderr, len(shots), "painting")
	defer bar.clear()
	truths := make([]paint.Truth, len(shots))
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(runtime.GOMAXPROCS(0))
	for i, shot := range shots {
		group.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			frame, err := paint.Paint(shot.scene(sun))
			if err != nil {
				return fmt.Errorf("painting %s: %w", shot.name(), err)
			}
			truths[i] = frame.Truth
			bar.step()
			return wholefile.Write(filepath.Join(folder, shot.name()), false, frame.WritePNG)
		})
	}
	return truths, group.Wait()
}

// demoNext says what to try on the demo's catalogue.
func demoNext(w io.Writer, folder, path, hero string) error {
	_, err := fmt.Fprintf(w, `
Try next:
  limbwatch desk --catalogue %[1]s          the marking page in your browser
  limbwatch track show %[2]s --catalogue %[1]s
  limbwatch expect --at 2026-03-30T14:00:00Z --catalogue %[1]s
  limbwatch log report --month 2026-03 --out report --catalogue %[1]s
  limbwatch log --kind prominence --catalogue %[1]s
  limbwatch disc find %[3]s
`, path, hero, filepath.Join(folder, demoShots()[0].name()))
	return err
}
