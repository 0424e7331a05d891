package main

import (
	"context"
	"errors"
	"fmt"

	"limbwatch/catalog/observe"
	"limbwatch/coords/limb"
	"limbwatch/coords/picture/capture"
)

// frameAdding adds pictures one by one, each as an operation of its own: what is
// kept stays kept when the rest is stopped.
type frameAdding struct {
	app    *app
	keeper observe.Keeper
	json   bool
	rows   []frameRow
	failed int
}

// runFrameAdd adds pictures. One that fails is told and the rest go on.
func runFrameAdd(ctx context.Context, app *app, k observe.Keeper, n observe.NewFrame, paths []string, asJSON bool) error {
	adding := frameAdding{app: app, keeper: k, json: asJSON, rows: []frameRow{}}
	bar := newBar(app.stderr, len(paths), "reading pictures")
	var stopped error
	for _, path := range paths {
		n.Path = path
		err := adding.add(ctx, n, bar)
		if errors.Is(err, context.Canceled) {
			stopped = withHint(fmt.Errorf("stopped: %d of %d pictures were added", len(adding.rows), len(paths)),
				"say it again to go on: what is there already is left as it is")
			break
		}
		_, known := errors.AsType[*observe.DuplicateError](err)
		switch {
		case err == nil:
		case len(paths) == 1:
			return err
		case known: // as when a whole folder is added again: told, and no failure
			bar.clear()
			fmt.Fprintf(app.stderr, "limbwatch: note: %v\n", err)
		default:
			bar.clear()
			adding.failed++
			complain(app.stderr, err)
		}
		bar.step()
	}
	bar.clear()
	if asJSON {
		if err := printJSON(app.stdout, adding.rows); err != nil {
			return err
		}
	}
	if stopped == nil && adding.failed > 0 {
		return fmt.Errorf("%d of %d pictures were not added", adding.failed, len(paths))
	}
	return stopped
}

// add adds one picture and shows what was found in it.
func (a *frameAdding) add(ctx context.Context, n observe.NewFrame, bar bar) error {
	if n.Path == "" {
		return misuse("a picture without a name")
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	added, err := a.keeper.AddFrame(ctx, n)
	if err != nil {
		return adviseTime(err)
	}
	bar.clear()
	if a.json { // for people they stand with the frame, which is printed
		for _, warning := range added.Warnings {
			fmt.Fprintf(a.app.stderr, "limbwatch: note: %s: %s\n", added.Frame.ID, warning)
		}
	}
	noteFuture(a.app.stderr, added.Frame.ID.String(), added.Frame.Taken, a.keeper.Now())
	// What was kept is shown even when it was the last before a Ctrl-C.
	row, err := frameRowOf(context.WithoutCancel(ctx), a.keeper, added.Frame.ID)
	if err != nil {
		return err
	}
	row.Moved = added.Moved
	if added.DiscRefused != nil {
		row.DiscRefused = added.DiscRefused.Error()
		if refused, ok := errors.AsType[*limb.RefusedError](added.DiscRefused); ok {
			row.DiscCircles = newFoundCircles(refused.Rivals)
		}
	}
	a.rows = append(a.rows, row)
	if a.json {
		return nil
	}
	return printFrame(a.app.stdout, row)
}

// adviseTime adds what to do when a time, or its zone, is not known.
func adviseTime(err error) error {
	if _, ok := errors.AsType[*capture.ZoneNeededError](err); ok {
		return withHint(err, "add --zone, or give the site a zone: limbwatch site edit SITE --zone ZONE")
	}
	_, none := errors.AsType[*capture.NoTimeError](err)
	if _, leap := errors.AsType[*capture.NoLeapSecondError](err); none || leap {
		return withHint(err, "say when it was taken, as in --at 2026-03-14T15:23:10Z")
	}
	if e, ok := errors.AsType[*capture.TwiceError](err); ok {
		return withHint(err, "say which, with --zone %s or --zone %s", e.Offsets[0], e.Offsets[1])
	}
	if _, ok := errors.AsType[*capture.NeverError](err); ok {
		return withHint(err, "say the offset that the clock really had, as in --zone +01:00")
	}
	if _, ok := errors.AsType[*capture.AmbiguousDateError](err); ok {
		return withHint(err, "say when it was taken, as in --at 2026-03-14T15:23:10Z")
	}
	if e, ok := errors.AsType[*observe.DuplicateError](err); ok {
		return withHint(err, "see limbwatch frame show %s", e.Frame.ID)
	}
	return err
}
