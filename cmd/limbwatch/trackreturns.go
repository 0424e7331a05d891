package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

// returnsOptions are what "track returns" was told.
type returnsOptions struct {
	when                 rangeFlags
	accept, refuse, json bool
}

func newTrackReturnsCommand(app *app) *cobra.Command {
	var opts returnsOptions
	cmd := &cobra.Command{
		Use:   "returns [EARLIER LATER]",
		Short: "Find which passages are earlier ones come back a rotation later, with the odds",
		Long: `Returns carries each passage that went behind the west edge round to the east, and
weighs what comes up there against it and against chance. Passages are linked, never
merged; a link that the odds make doubtful is only proposed.

With two passages, --accept says that the later one is the earlier one come back,
--refuse that it is not. What you said of a pair stands; limbwatch undo takes it back.`,
		Example: `  limbwatch track returns
  limbwatch track returns --from 2026-02-01 --json
  limbwatch track returns 2026-fil-3 2026-fil-16 --accept`,
		Args: noneOrTwo,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return opts.say(ctx, cmd.OutOrStdout(), k, args[0], args[1])
			}
			if opts.accept || opts.refuse {
				return withHint(misuse("--accept and --refuse go with two passages"), "name the earlier and the later one: limbwatch track returns lists them")
			}
			from, to, err := opts.when.resolve()
			if err != nil {
				return err
			}
			list, err := k.TrackReturns(ctx, from, to)
			if err != nil {
				return err
			}
			return printReturns(cmd.OutOrStdout(), list, opts.json)
		}),
	}
	opts.when.addFlags(cmd)
	addJSONFlag(cmd, &opts.json)
	cmd.Flags().BoolVar(&opts.accept, "accept", false, "the later passage is the earlier one come back")
	cmd.Flags().BoolVar(&opts.refuse, "refuse", false, "it is not")
	cmd.MarkFlagsMutuallyExclusive("accept", "refuse")
	for _, whole := range []string{"from", "to", "json"} {
		cmd.MarkFlagsMutuallyExclusive("accept", whole)
		cmd.MarkFlagsMutuallyExclusive("refuse", whole)
	}
	return cmd
}

func noneOrTwo(_ *cobra.Command, args []string) error {
	if len(args) == 0 || len(args) == 2 {
		return nil
	}
	return errors.New("want two passages or none")
}

// say keeps the observer's word of one pair.
func (o returnsOptions) say(ctx context.Context, w io.Writer, k observe.Keeper, earlier, later string) error {
	if !o.accept && !o.refuse {
		return withHint(misuse("two passages, and not what to say of them"), "say --accept or --refuse; limbwatch track returns alone lists all")
	}
	v := k.Store.Read(ctx)
	from, err := findPassage(v, earlier)
	if err != nil {
		return err
	}
	to, err := findPassage(v, later)
	if err != nil {
		return err
	}
	if err := k.SayReturn(ctx, from.ID, to.ID, o.accept); err != nil {
		return err
	}
	return printLinks(w, k.Store.Read(ctx), to.ID)
}

// returnRow is one return as JSON names it.
type returnRow struct {
	Earlier    string  `json:"earlier"`
	Later      string  `json:"later"`
	Odds       float64 `json:"odds"`
	State      string  `json:"state"`
	SaidBy     string  `json:"said_by"`
	Days       float64 `json:"days"`
	MissLatDeg float64 `json:"miss_lat_deg"`
	SigmaLat   float64 `json:"sigma_lat_deg"`
	MissLonDeg float64 `json:"miss_lon_deg"`
	SigmaLon   float64 `json:"sigma_lon_deg"`
}

func printReturns(w io.Writer, list []observe.Returned, asJSON bool) error {
	rows := []returnRow{}
	t := newTable("earlier", "later", "odds", "", "days unseen", "miss in latitude", "miss in longitude")
	for _, r := range list {
		rows = append(rows, returnRow{r.From.Name, r.To.Name, r.Odds, r.State.String(), r.By.String(), r.Days,
			r.MissLatDeg, r.SigmaLatDeg, r.MissLonDeg, r.SigmaLonDeg})
		state := r.State.String()
		if r.By == catalog.ByObserver {
			state += " by your word"
		}
		t.add(r.From.Name, r.To.Name, fmt.Sprintf("%.2f", r.Odds), state, fmt.Sprintf("%.1f", r.Days),
			withError(r.MissLatDeg, &r.SigmaLatDeg, "°", true), withError(r.MissLonDeg, &r.SigmaLonDeg, "°", true))
	}
	if asJSON {
		return printJSON(w, rows)
	}
	return t.print(w, "no passage is likely to be an earlier one come back")
}

// linkRow is what a passage has to do with another one, as JSON names it.
type linkRow struct {
	Relation string   `json:"relation"` // return, split or merger
	Earlier  string   `json:"earlier"`
	Later    string   `json:"later"`
	State    string   `json:"state"`
	SaidBy   string   `json:"said_by"`
	Odds     *float64 `json:"odds"`

	words string
}

// linkRows lists what a passage has to do with others.
func linkRows(v *store.View, id catalog.PassageID) ([]linkRow, error) {
	links, err := v.LinksOf(id)
	if err != nil {
		return nil, err
	}
	rows := []linkRow{}
	for _, l := range links {
		earlier, err := v.Passage(l.From)
		if err != nil {
			return nil, err
		}
		later, err := v.Passage(l.To)
		if err != nil {
			return nil, err
		}
		rows = append(rows, linkRow{l.Relation.String(), earlier.Name, later.Name, l.State.String(), l.By.String(), l.Odds,
			linkWords(l, earlier.Name, later.Name)})
	}
	return rows, nil
}

// linkWords says what a link says.
func linkWords(l catalog.Link, earlier, later string) string {
	is := "is"
	switch {
	case l.State == catalog.Refused:
		is = "is not"
	case l.State == catalog.Proposed:
		is = "may be"
	}
	words := fmt.Sprintf("%s %s %s come back", later, is, earlier)
	switch l.Relation {
	case catalog.Split:
		words = fmt.Sprintf("%s was split from %s", later, earlier)
	case catalog.Merger:
		words = fmt.Sprintf("%s went on in %s", earlier, later)
	}
	switch {
	case l.By == catalog.ByObserver:
		words += ", by your word"
	case l.Odds != nil:
		words += fmt.Sprintf(" (odds %.2f)", *l.Odds)
	}
	return words
}

func printLinks(w io.Writer, v *store.View, id catalog.PassageID) error {
	rows, err := linkRows(v, id)
	if err != nil {
		return err
	}
	for _, r := range rows {
		fmt.Fprintln(w, r.words)
	}
	return nil
}
