package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/rotation"
)

func newTrackJoinCommand(app *app) *cobra.Command {
	var fresh bool
	cmd := &cobra.Command{
		Use:   "join PASSAGE MARK...",
		Short: "Put marks into a passage by your own word; the program will not take them out",
		Example: `  limbwatch track join 2026-fil-14 M40 M52
  limbwatch track join --new M40 M52`,
		Args: cobra.MinimumNArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			if fresh {
				marks, err := parseMarks(args)
				if err != nil {
					return err
				}
				p, err := k.BeginPassage(ctx, marks)
				if err != nil {
					return err
				}
				return runTrackShow(ctx, cmd.OutOrStdout(), k, p.ID.String(), false)
			}
			p, err := findPassage(k.Store.Read(ctx), args[0])
			if err != nil {
				return err
			}
			marks, err := parseMarks(args[1:])
			if err != nil {
				return err
			}
			if err := joinMarks(ctx, cmd.ErrOrStderr(), k, p, marks); err != nil {
				return err
			}
			return runTrackShow(ctx, cmd.OutOrStdout(), k, p.ID.String(), false)
		}),
	}
	cmd.Flags().BoolVar(&fresh, "new", false, "begin a new passage with these marks")
	return cmd
}

// joinMarks joins by the observer's word, and tells of marks that are of another kind or
// stand far away from the others: it may be a slip in a number.
func joinMarks(ctx context.Context, stderr io.Writer, k observe.Keeper, p catalog.Passage, marks []catalog.MarkID) error {
	if err := k.JoinMarks(ctx, p.ID, marks); err != nil {
		return err
	}
	for _, id := range marks {
		m, err := k.Store.Read(ctx).Mark(id)
		if err != nil {
			return err
		}
		if !m.Kind.Akin(p.Kind) {
			fmt.Fprintf(stderr, "limbwatch: note: %s is a %s, and %s is of kind %s; limbwatch undo takes the join back\n", id, m.Kind, p.Name, p.Kind)
		}
	}
	return noteFarAway(ctx, stderr, k, p, marks)
}

// What no feature does (common practice, no source): its middle jumps so far, and it runs
// so far ahead of the others in a day or falls behind.
const (
	farJump  = 15 * coords.Degree
	farDaily = 1.5 * coords.Degree
)

// noteFarAway tells of marks just joined that stand where their passage's other sightings,
// turned to their time, are not.
func noteFarAway(ctx context.Context, stderr io.Writer, k observe.Keeper, p catalog.Passage, joined []catalog.MarkID) error {
	entries, err := k.Store.Read(ctx).Entries(store.Query{Passage: p.ID, References: true})
	if err != nil {
		return err
	}
	law := rotation.PriorOf(p.Kind.String()).Law
	for _, e := range entries {
		place, ok := e.Position.Reading()
		if !ok || !slices.Contains(joined, e.Mark.ID) {
			continue
		}
		nearest, miss := math.Inf(1), coords.Angle(0)
		for _, other := range entries {
			from, ok := other.Position.Reading()
			if !ok || slices.Contains(joined, other.Mark.ID) {
				continue
			}
			if days := rotation.Days(other.Position.UTC, e.Position.UTC); math.Abs(days) < nearest {
				nearest, miss = math.Abs(days), law.Carry(from.Heliographic, days).Distance(place.Heliographic)
			}
		}
		if !math.IsInf(nearest, 0) && miss > farJump+coords.Angle(nearest)*farDaily {
			fmt.Fprintf(stderr, "limbwatch: note: %s stands %.0f° from where the others of %s were then; limbwatch undo takes the join back\n", e.Mark.ID, miss.Degrees(), p.Name)
		}
	}
	return nil
}

// parseMarks reads the ids of one or more marks.
func parseMarks(texts []string) ([]catalog.MarkID, error) {
	if len(texts) == 0 {
		return nil, misuse("no mark named: want one or more, as M12")
	}
	var marks []catalog.MarkID
	for _, text := range texts {
		id, err := parseMark(text)
		if err != nil {
			return nil, err
		}
		marks = append(marks, id)
	}
	return marks, nil
}

func newTrackSplitCommand(app *app) *cobra.Command {
	return &cobra.Command{
		Use:     "split PASSAGE MARK...",
		Short:   "Take marks out of a passage into a new one, by your own word",
		Example: "  limbwatch track split 2026-fil-14 M52 M60",
		Args:    cobra.MinimumNArgs(2),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			p, err := findPassage(k.Store.Read(ctx), args[0])
			if err != nil {
				return err
			}
			marks, err := parseMarks(args[1:])
			if err != nil {
				return err
			}
			fresh, err := k.SplitPassage(ctx, p.ID, marks)
			if err != nil {
				return err
			}
			return runTrackShow(ctx, cmd.OutOrStdout(), k, fresh.ID.String(), false)
		}),
	}
}

func newTrackRefuseCommand(app *app) *cobra.Command {
	return &cobra.Command{
		Use:     "refuse MARK...",
		Short:   "Say that marks do not belong to the passage they are in; the program will not put them there again",
		Example: "  limbwatch track refuse M52",
		Args:    cobra.MinimumNArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, _ *cobra.Command, args []string) error {
			marks, err := parseMarks(args)
			if err != nil {
				return err
			}
			return k.RefuseJoins(ctx, marks)
		}),
	}
}

func newTrackRenameCommand(app *app) *cobra.Command {
	return &cobra.Command{
		Use:     "rename PASSAGE NAME",
		Short:   "Give a passage another name",
		Example: `  limbwatch track rename 2026-fil-14 "the long one"`,
		Args:    cobra.ExactArgs(2),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			p, err := findPassage(k.Store.Read(ctx), args[0])
			if err != nil {
				return err
			}
			p.Name = args[1]
			if p, err = k.EditPassage(ctx, p); err != nil {
				return err
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s %s\n", p.ID, p.Name)
			return err
		}),
	}
}

func newTrackNoteCommand(app *app) *cobra.Command {
	return &cobra.Command{
		Use:     "note PASSAGE TEXT",
		Short:   "Write a note to a passage, in place of the one it has",
		Example: `  limbwatch track note 2026-fil-14 "vanished between 9 and 11 UT"`,
		Args:    cobra.ExactArgs(2),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, _ *cobra.Command, args []string) error {
			p, err := findPassage(k.Store.Read(ctx), args[0])
			if err != nil {
				return err
			}
			p.Note = args[1]
			_, err = k.EditPassage(ctx, p)
			return err
		}),
	}
}
