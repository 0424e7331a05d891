package main

import (
	"context"
	"time"

	"github.com/spf13/cobra"

	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords/picture/capture"
)

// circumstanceFlags name who observes, with what and where; nothing named means
// the defaults.
type circumstanceFlags struct {
	observer, setup, site string
}

func (c *circumstanceFlags) addFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&c.observer, "observer", "", "who observes, by `name`, code or id (default: the default observer)")
	f.StringVar(&c.setup, "setup", "", "the set-up, by id or as `telescope/set-up` (default: the default one)")
	f.StringVar(&c.site, "site", "", "the site, by `name` or id (default: the default site)")
}

func (c *circumstanceFlags) resolve(v *store.View) (found observe.Circumstances, err error) {
	if c.observer != "" {
		o, err := findObserver(v, c.observer)
		if err != nil {
			return found, err
		}
		found.Observer = o.ID
	}
	if c.setup != "" {
		_, s, err := findSetup(v, c.setup)
		if err != nil {
			return found, err
		}
		found.Setup = s.ID
	}
	if c.site != "" {
		s, err := findSite(v, c.site)
		if err != nil {
			return found, err
		}
		found.Site = s.ID
	}
	return found, nil
}

// parseZone reads --zone; nothing is nil.
func parseZone(text string) (*time.Location, error) {
	if text == "" {
		return nil, nil
	}
	zone, err := capture.ParseZone(text)
	if err != nil {
		return nil, &misuseError{err}
	}
	return zone, nil
}

// rangeFlags choose a stretch of time; both ends may be days or instants, in UTC.
type rangeFlags struct {
	from, to string
}

func (r *rangeFlags) addFlags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&r.from, "from", "", "first `day` or instant, UTC, as 2026-03-01")
	cmd.Flags().StringVar(&r.to, "to", "", "last `day` (the whole of it) or instant, UTC")
}

// resolve gives from ≤ t < to; what was not typed is zero.
func (r *rangeFlags) resolve() (from, to time.Time, err error) {
	if r.from != "" {
		if from, err = parseDay("from", r.from); err != nil {
			return from, to, err
		}
	}
	if r.to != "" {
		if to, err = parseDay("to", r.to); err != nil {
			return from, to, err
		}
		if _, err := time.Parse(time.DateOnly, r.to); err == nil {
			to = to.AddDate(0, 0, 1)
		}
	}
	if !from.IsZero() && !to.IsZero() && !from.Before(to) {
		return from, to, misuse("--from %s is not before --to %s", r.from, r.to)
	}
	return from, to, nil
}

// parseDay reads an end of a stretch.
func parseDay(flag, text string) (time.Time, error) {
	t, err := parseUTC(text)
	if err != nil {
		return t, misuse("--%s %q: want a day, as 2026-03-14, or an instant, as 2026-03-14T15:23:10Z", flag, text)
	}
	return t, nil
}

// withKeeper opens the catalogue for a command's work and adds advice to the
// store's errors.
func withKeeper(app *app, work func(context.Context, observe.Keeper, *cobra.Command, []string) error) func(*cobra.Command, []string) error {
	return func(cmd *cobra.Command, args []string) error {
		k, err := app.keeper(cmd.Context())
		if err != nil {
			return err
		}
		return adviseStore(work(cmd.Context(), k, cmd, args))
	}
}

// withID is withKeeper for a command whose only argument is the number of a thing.
func withID[ID any](app *app, parse func(string) (ID, error), work func(context.Context, observe.Keeper, *cobra.Command, ID) error) func(*cobra.Command, []string) error {
	return withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
		id, err := parse(args[0])
		if err != nil {
			return err
		}
		return work(ctx, k, cmd, id)
	})
}
