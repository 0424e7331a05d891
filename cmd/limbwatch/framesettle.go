package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
)

// warningRow is a warning of a frame as JSON names it.
type warningRow struct {
	Warning    catalog.WarningID `json:"warning"`
	Cause      string            `json:"cause"`
	Words      string            `json:"words"`
	SettledUTC string            `json:"settled_utc,omitempty"`
	SettledBy  string            `json:"settled_by,omitempty"`
	SettledWhy string            `json:"settled_why,omitempty"`
}

// warningRowsOf are the warnings of a frame, those that nobody settled first.
func warningRowsOf(ctx context.Context, k observe.Keeper, id catalog.FrameID) ([]warningRow, error) {
	v := k.Store.Read(ctx)
	all, err := v.WarningsOf(id)
	if err != nil {
		return nil, err
	}
	open, settled := []warningRow{}, []warningRow{}
	for _, w := range all {
		row := warningRow{Warning: w.ID, Cause: w.Cause.String(), Words: w.Words}
		s := w.Settled
		if s == nil {
			open = append(open, row)
			continue
		}
		row.SettledUTC, row.SettledWhy = formatUTC(s.At), s.Why
		if s.By != 0 {
			o, err := v.Observer(s.By)
			if err != nil {
				return nil, err
			}
			row.SettledBy = o.Name
		}
		settled = append(settled, row)
	}
	return append(open, settled...), nil
}

// warningsInShort names the causes of what nobody has settled.
func (r *frameRow) warningsInShort() string {
	var causes []string
	for _, w := range r.Warnings {
		if w.SettledUTC == "" {
			causes = append(causes, w.Cause)
		}
	}
	return strings.Join(causes, ", ")
}

// printWarnings tells what is odd about a frame, and how it is settled.
func printWarnings(w io.Writer, r frameRow) {
	open := 0
	for _, row := range r.Warnings {
		switch {
		case row.SettledUTC == "":
			open++
			fmt.Fprintf(w, "    warning %s, %s: %s\n", row.Warning, row.Cause, onOneLine(row.Words))
		case row.SettledBy == "":
			fmt.Fprintf(w, "    settled %s, %s: %s (%s)\n", row.Warning, row.Cause, onOneLine(row.SettledWhy), row.SettledUTC)
		default:
			fmt.Fprintf(w, "    settled %s, %s: %s (%s, %s)\n", row.Warning, row.Cause, onOneLine(row.SettledWhy), row.SettledBy, row.SettledUTC)
		}
	}
	if open > 0 {
		fmt.Fprintf(w, "            put it right, or say why it is right: limbwatch frame settle %s --why TEXT\n", r.Frame)
	}
}

// settleOptions are what "frame settle" was told.
type settleOptions struct {
	why, by string
	json    bool
}

func newFrameSettleCommand(app *app) *cobra.Command {
	var opts settleOptions
	cmd := &cobra.Command{
		Use:   "settle FRAME [WARNING...]",
		Short: "Say that what is odd about a picture was looked into, and why it is right",
		Long: `Settle keeps your word that warnings of a frame are no reason to doubt it: who said
so, why and when. Without a warning's id it settles all that the frame has. A warning
is about the file or its time (file, horizon), its limb or the size of its disc (limb,
size), or a north that contradicts a neighbour's (north). Until it is settled, or its
cause is put right, it stands with the picture, in exports and in reports. When the
figures it rests on change it is asked anew. Undo takes it back.`,
		Example: `  limbwatch frame settle F3 --why "resized export of the same evening"
  limbwatch frame settle F3 W7 --why "the clock was an hour fast, sitting S2 says so" --by "Wren Holloway"`,
		Args: cobra.MinimumNArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			s, err := opts.settling(ctx, k, args)
			if err != nil {
				return err
			}
			if _, err := k.Settle(ctx, s); err != nil {
				if _, ok := errors.AsType[*observe.NothingOpenError](err); ok {
					return err
				}
				return withHint(err, "see limbwatch frame show %s", s.Frame)
			}
			return showFrame(ctx, cmd, k, s.Frame, opts.json)
		}),
	}
	cmd.Flags().StringVar(&opts.why, "why", "", "what was found when it was looked into, as `text`")
	cmd.Flags().StringVar(&opts.by, "by", "", "the `observer` who says so (default: who observed)")
	addJSONFlag(cmd, &opts.json)
	return cmd
}

func (o *settleOptions) settling(ctx context.Context, k observe.Keeper, args []string) (s observe.Settling, err error) {
	if s.Why = strings.TrimSpace(o.why); s.Why == "" {
		return s, misuse("a warning is settled for a reason: give it with --why")
	}
	if s.Frame, err = parseFrame(args[0]); err != nil {
		return s, err
	}
	for _, text := range args[1:] {
		id, err := catalog.ParseWarningID(text)
		if err != nil {
			return s, withHint(&misuseError{err}, "limbwatch frame show %s lists them", s.Frame)
		}
		s.Warnings = append(s.Warnings, id)
	}
	if o.by != "" {
		by, err := findObserver(k.Store.Read(ctx), o.by)
		if err != nil {
			return s, err
		}
		s.By = by.ID
	}
	return s, nil
}
