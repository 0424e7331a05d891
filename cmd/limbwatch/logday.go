package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
)

// dayOptions are what "log day" was told.
type dayOptions struct {
	counts               map[catalog.Tally]*string
	at, sitting          string
	seeing, transparency string
	note                 string
	circumstances        circumstanceFlags
	json                 bool
}

func newLogDayCommand(app *app) *cobra.Command {
	opts := dayOptions{counts: map[catalog.Tally]*string{}}
	cmd := &cobra.Command{
		Use:   "day DAY",
		Short: "Type the counts of a day from paper, without positions",
		Long: `Day keeps what you counted on a UT day, north and south of the solar equator: N2,S1 is
three; 3 alone is three whose hemispheres you did not tell apart; N2,S1,4 is seven,
four of them not told apart. 0 is none seen, and not the same as nothing said: a kind
that is not named stays blank.

The counts belong to the day's sitting, which is begun when there is none, and stand
in reports in place of those of marks. Typed again they are put right; an empty text
("") takes one away. The whole is one change, taken back by one undo.`,
		Example: `  limbwatch log day 2026-03-14 --groups N2,S1 --spots N11,S3 --seeing "2 Kiepenheuer steadiness"
  limbwatch log day 2026-03-14 --at 09:12Z --filaments N4,S2 --prominences 5 --elements 9
  limbwatch log day 2026-03-14 --spots ""`,
		Args: cobra.ExactArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			day, err := opts.resolve(cmd, k, ctx, args[0])
			if err != nil {
				return err
			}
			noteFuture(cmd.ErrOrStderr(), "the day", day.Day, k.Now())
			return runLogDay(ctx, cmd.OutOrStdout(), k, day, opts.json)
		}),
	}
	f := cmd.Flags()
	for _, t := range []struct {
		tally catalog.Tally
		about string
	}{
		{catalog.TallyGroups, "groups of sunspots, as `N2,S1`"}, {catalog.TallySpots, "sunspots, as `N11,S3`"},
		{catalog.TallyPlages, "plages, as `N1,S0`"}, {catalog.TallyFilaments, "filaments, as `N4,S2`"},
		{catalog.TallyProminences, "places along the limb with prominences (H), as `N3,S2`"},
		{catalog.TallyElements, "separate elements of prominences (E), as `N5,S4`"},
	} {
		opts.counts[t.tally] = f.String(t.tally.String(), "", t.about)
		mayBeEmpty(cmd, t.tally.String())
	}
	f.StringVar(&opts.at, "at", "", "when it was seen, a UT `time` as 09:12Z")
	f.StringVar(&opts.sitting, "sitting", "", "the `sitting`, when the day has several")
	f.StringVar(&opts.seeing, "seeing", "", "a value and the name of its scale, as `\"2 Kiepenheuer steadiness\"`")
	f.StringVar(&opts.transparency, "transparency", "", "a `value` and the name of its scale")
	f.StringVar(&opts.note, "note", "", "anything else, as `text`")
	mayBeEmpty(cmd, "seeing", "transparency", "note")
	opts.circumstances.addFlags(cmd)
	addJSONFlag(cmd, &opts.json)
	return cmd
}

// resolve turns what was typed into a day's counts.
func (o *dayOptions) resolve(cmd *cobra.Command, k observe.Keeper, ctx context.Context, text string) (d observe.DayCounts, err error) {
	if d.Day, err = time.Parse(time.DateOnly, text); err != nil {
		return d, misuse("day %q: want a UT day, as in 2026-03-14", text)
	}
	set := cmd.Flags().Changed
	for _, tally := range catalog.Tallies {
		typed := *o.counts[tally]
		switch {
		case !set(tally.String()):
		case typed == "":
			d.Without = append(d.Without, tally)
		default:
			c, err := catalog.ParseCount(tally, typed)
			if err != nil {
				return d, &misuseError{err}
			}
			d.Counts = append(d.Counts, c)
		}
	}
	if len(d.Counts)+len(d.Without) == 0 {
		return d, withHint(misuse("a day without counts"), "say what you counted, as --groups N2,S1; for seeing alone see limbwatch sitting add")
	}
	if o.at != "" {
		if d.At, err = parseUTC(text + "T" + o.at); err != nil || !strings.HasSuffix(o.at, "Z") {
			return d, misuse("time %q: want UT with its Z, as in 09:12Z", o.at)
		}
	}
	if o.sitting != "" {
		if d.Sitting, err = parseSitting(o.sitting); err != nil {
			return d, err
		}
	}
	for _, r := range []struct {
		flag, text string
		to         **catalog.Rating
	}{{"seeing", o.seeing, &d.Seeing}, {"transparency", o.transparency, &d.Transparency}} {
		if !set(r.flag) {
			continue
		}
		rating, err := parseRating(r.flag, r.text)
		if err != nil {
			return d, err
		}
		*r.to = &rating
	}
	if set("note") {
		d.Note = &o.note
	}
	d.Circumstances, err = o.circumstances.resolve(k.Store.Read(ctx))
	return d, err
}

// dayRow is a day's counts as JSON names them.
type dayRow struct {
	Sitting catalog.SittingID `json:"sitting"`
	Day     string            `json:"day"`
	Counts  []countRow        `json:"counts"`
}

type countRow struct {
	Tally catalog.Tally `json:"tally"`
	North *int          `json:"north"`
	South *int          `json:"south"`
	Total int           `json:"total"`
}

func runLogDay(ctx context.Context, w io.Writer, k observe.Keeper, d observe.DayCounts, asJSON bool) error {
	s, kept, err := k.LogDay(ctx, d)
	if several, ok := errors.AsType[*observe.SeveralSittingsError](err); ok {
		return withHint(err, "name one, as in --sitting %s", several.Sittings[0])
	}
	if err != nil {
		return err
	}
	day := s.Day.Format(time.DateOnly)
	if asJSON {
		row := dayRow{Sitting: s.ID, Day: day, Counts: []countRow{}}
		for _, c := range kept {
			out := countRow{Tally: c.Tally, Total: c.Total}
			if c.Split {
				out.North, out.South = &c.North, &c.South
			}
			row.Counts = append(row.Counts, out)
		}
		return printJSON(w, row)
	}
	fmt.Fprintf(w, "%s %s", s.ID, day)
	for _, c := range kept {
		fmt.Fprintf(w, "  %s %s", c.Tally, c)
	}
	_, err = fmt.Fprintln(w)
	return err
}
