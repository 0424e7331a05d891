package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
	"limbwatch/catalog/observe"
	"limbwatch/coords/figure"
	"limbwatch/coords/rotation"
)

const trackLong = `A passage is one feature's crossing of the visible disc, from edge to edge. Track
follow joins marks to passages: it carries each feature on by differential rotation
and finds it again on other days, over gaps of cloud, by where it must be and how
sure that is. What you join yourself stands against the program. A name, once
given, stays.`

func newTrackCommand(app *app) *cobra.Command {
	return group("track", "Follow features across the disc from day to day", trackLong,
		newTrackFollowCommand(app),
		newTrackListCommand(app),
		newTrackShowCommand(app),
		newTrackReturnsCommand(app),
		newTrackRatesCommand(app),
		newTrackJoinCommand(app),
		newTrackSplitCommand(app),
		newTrackRefuseCommand(app),
		newTrackRenameCommand(app),
		newTrackNoteCommand(app),
	)
}

// trackOptions are what "track follow" was told.
type trackOptions struct {
	when              rangeFlags
	all, dryRun, json bool
	law               string
}

func newTrackFollowCommand(app *app) *cobra.Command {
	var opts trackOptions
	cmd := &cobra.Command{
		Use:   "follow",
		Short: "Join marks to passages, as one change that can be undone",
		Long: trackLong + `

Without a range it follows what needs it: marks without a passage, and passages
whose positions have changed since, with all that lies near enough in time. --all
follows everything anew; joins of your own and all names stay.

Each kind turns by its usual law of rotation. --law tries another one, this once: that
of "track rates", named as there, or A,B,C of A + B sin² latitude + C sin⁴ latitude in
sidereal degrees a day.`,
		Example: `  limbwatch track follow
  limbwatch track follow --from 2026-03-01 --to 2026-03-31 --dry-run
  limbwatch track follow --all
  limbwatch track follow --all --law 14.38,-2.96 --dry-run`,
		Args: cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			from, to, err := opts.when.resolve()
			if err != nil {
				return err
			}
			if opts.all && (!from.IsZero() || !to.IsZero()) {
				return misuse("--all and a range at once: give one of them")
			}
			how := observe.FollowOptions{From: from, To: to, All: opts.all, DryRun: opts.dryRun}
			if opts.law != "" {
				law, err := rotation.Parse(opts.law)
				if err != nil {
					return &misuseError{err}
				}
				how.Law = &law
			}
			done, err := k.TrackFollow(ctx, how)
			if err != nil {
				return err
			}
			return printFollowed(cmd.OutOrStdout(), done, opts)
		}),
	}
	opts.when.addFlags(cmd)
	cmd.Flags().BoolVar(&opts.all, "all", false, "follow everything anew")
	cmd.Flags().StringVar(&opts.law, "law", "", "this once everything turns by this `law`: a name or A,B,C (default: each kind by its own)")
	cmd.Flags().BoolVar(&opts.dryRun, "dry-run", false, "say what would change, keep nothing")
	addJSONFlag(cmd, &opts.json)
	return cmd
}

// followedRow is what following changed, as JSON names it.
type followedRow struct {
	Marks     int         `json:"marks"`
	Joined    int         `json:"joined"`
	Moved     int         `json:"moved"`
	Weighed   int         `json:"other_odds"`
	New       int         `json:"new_passages"`
	Ended     int         `json:"ended_passages"`
	Proposed  int         `json:"proposed"`
	Withdrawn int         `json:"no_longer_proposed"`
	DryRun    bool        `json:"dry_run"`
	Passages  []changeRow `json:"passages"`
	Shifted   []shiftRow  `json:"shifted"`
	Norths    []northsRow `json:"norths"`
	NotHeld   int         `json:"norths_not_held_yet"`
	Usual     int         `json:"marks_without_error"`
}

// northsRow is two pictures whose norths do not go together.
type northsRow struct {
	Frame   catalog.FrameID `json:"frame"`
	Against catalog.FrameID `json:"against"`
	Words   string          `json:"words"`
}

// shiftRow is a look at which all places are off in longitude together.
type shiftRow struct {
	UTC      string            `json:"utc"`
	Frames   []catalog.FrameID `json:"frames"`
	Marks    int               `json:"marks"`
	LonDeg   float64           `json:"shift_lon_deg"`
	ClockHrs float64           `json:"clock_behind_hours"`
}

type changeRow struct {
	Passage string           `json:"passage"`
	Kind    catalog.Kind     `json:"kind"`
	New     bool             `json:"new"`
	Ended   bool             `json:"ended"`
	Gained  []catalog.MarkID `json:"gained"`
	Lost    []catalog.MarkID `json:"lost"`
}

func printFollowed(w io.Writer, done observe.Followed, opts trackOptions) error {
	if opts.json {
		row := followedRow{Marks: done.Marks, Joined: done.Joined, Moved: done.Moved, Weighed: done.Reweighed, New: done.New, Ended: done.Ended,
			Proposed: done.Proposed, Withdrawn: done.Withdrawn, DryRun: opts.dryRun, Passages: []changeRow{}, Shifted: []shiftRow{}, Norths: []northsRow{}, NotHeld: done.NotHeld, Usual: done.Usual}
		for _, s := range done.Shifted {
			row.Shifted = append(row.Shifted, shiftRow{formatUTC(s.UTC), s.Frames, s.Marks, s.Deg, s.Hours})
		}
		for _, c := range done.Norths {
			row.Norths = append(row.Norths, northsRow{c.Frame, c.Against, c.Words})
		}
		for _, c := range done.Passages {
			row.Passages = append(row.Passages, changeRow{c.Passage.Name, c.Passage.Kind, c.New, c.Ended, c.Gained, c.Lost})
		}
		return printJSON(w, row)
	}
	t := newTable("passage", "kind", "", "marks gained", "marks lost")
	for _, c := range done.Passages {
		what := "goes on"
		switch {
		case c.New:
			what = "new"
		case c.Ended:
			what = "empty now, taken away"
		}
		t.add(c.Passage.Name, c.Passage.Kind.String(), what, shortList(c.Gained), shortList(c.Lost))
	}
	nothing := "nothing to change"
	if done.Marks == 0 {
		nothing += ": no mark is new or was changed (limbwatch mark add)"
	} else if done.Reweighed+done.Proposed+done.Withdrawn > 0 {
		nothing = "all marks stay where they are"
	}
	if err := t.print(w, nothing); err != nil {
		return err
	}
	for _, s := range done.Shifted {
		printShifted(w, s)
	}
	for _, c := range done.Norths {
		fmt.Fprintf(w, "%s: %s\n", c.Frame, c.Words)
	}
	if done.Usual > 0 {
		fmt.Fprintf(w, "of %s no error of the place is known: %g° stands for it\n", counted(done.Usual, "mark"), observe.UnknownSigma.Degrees())
	}
	if done.NotHeld > 0 {
		fmt.Fprintf(w, "the norths of %s more are held against their neighbours' by following again\n", counted(done.NotHeld, "picture"))
	}
	verb := "joined"
	if opts.dryRun {
		verb = "would be joined"
	}
	more := ""
	if done.Reweighed > 0 {
		more += fmt.Sprintf(", %d with other odds", done.Reweighed)
	}
	if done.Withdrawn > 0 {
		more += fmt.Sprintf(", %s no longer proposed", counted(done.Withdrawn, "join"))
	}
	_, err := fmt.Fprintf(w, "%s looked at: %d %s, %d moved, %s; %s too doubtful to make, proposed%s\n",
		counted(done.Marks, "mark"), done.Joined, verb, done.Moved, counted(done.New, "new passage"), counted(done.Proposed, "join"), more)
	return err
}

// printShifted tells of a look whose clock seems wrong.
func printShifted(w io.Writer, s observe.ShiftedLook) {
	side := "behind"
	if s.Hours < 0 {
		side = "ahead"
	}
	frames := make([]string, len(s.Frames))
	for i, id := range s.Frames {
		frames[i] = id.String()
	}
	fmt.Fprintf(w, "%s (%s): all %s stand %+.1f° off in longitude from the days around, as if the clock was %.0f h %s; joined with that taken out, the places stay: check the time\n",
		s.UTC.Format("2006-01-02 15:04Z"), strings.Join(frames, ", "), counted(s.Marks, "mark"), s.Deg, math.Abs(s.Hours), side)
}

// shortList names up to six marks.
func shortList(ids []catalog.MarkID) string {
	const most = 6
	var names []string
	for i, id := range ids {
		if i == most {
			names = append(names, fmt.Sprintf("and %d more", len(ids)-most))
			break
		}
		names = append(names, id.String())
	}
	return strings.Join(names, " ")
}

// passageRow is a passage as JSON names it.
type passageRow struct {
	ID        catalog.PassageID `json:"id"`
	UUID      string            `json:"uuid"`
	Passage   string            `json:"passage"`
	Kind      catalog.Kind      `json:"kind"`
	Marks     int               `json:"marks"`
	FirstUTC  string            `json:"first_utc"`
	LastUTC   string            `json:"last_utc"`
	LatDeg    *float64          `json:"lat_deg"`
	LonDeg    *float64          `json:"lon_deg"`
	SigmaLat  *float64          `json:"sigma_lat_deg"`
	SigmaLon  *float64          `json:"sigma_lon_deg"`
	PlaceUTC  string            `json:"place_utc,omitempty"` // of the newest sighting on the disc
	HeightMm  *field.Megametres `json:"height_km"`
	SigmaMm   *field.Megametres `json:"sigma_height_km"`
	Stale     bool              `json:"stale"`
	Note      string            `json:"note"`
	Height    *heightRow        `json:"height,omitempty"`
	Links     []linkRow         `json:"links,omitempty"`
	Sightings []markRow         `json:"sightings,omitempty"`
}

func newTrackListCommand(app *app) *cobra.Command {
	var opts logOptions
	var stale bool
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List the passages: when each was seen, and where",
		Example: "  limbwatch track list --from 2026-03-01 --kind filament",
		Args:    cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			v := k.Store.Read(ctx)
			q, err := opts.query(v)
			if err != nil {
				return err
			}
			rows, err := passageRows(v, q)
			if err != nil {
				return err
			}
			if stale {
				kept := rows[:0]
				for _, r := range rows {
					if r.Stale {
						kept = append(kept, r)
					}
				}
				rows = kept
			}
			none := "no passage in this range: limbwatch track follow"
			if stale {
				none = "no passage here whose positions have changed since it was followed"
			}
			return printPassages(cmd.OutOrStdout(), rows, none, opts.json)
		}),
	}
	opts.when.addFlags(cmd)
	cmd.Flags().StringSliceVar(&opts.kinds, "kind", nil, "only passages with a mark of these `kinds`")
	cmd.Flags().BoolVar(&stale, "stale", false, "only those whose positions have changed since they were followed")
	addJSONFlag(cmd, &opts.json)
	return cmd
}

func printPassages(w io.Writer, rows []passageRow, none string, asJSON bool) error {
	if asJSON {
		return printJSON(w, rows)
	}
	t := newTable("passage", "kind", "marks", "first seen", "last seen", "latitude", "longitude", "on", "")
	for _, r := range rows {
		lat, lon, when, remark := "", "", "", r.Note
		if r.LatDeg != nil {
			when = shortTime(r.PlaceUTC)[:len("2006-01-02")]
			lat, lon = latWithError(*r.LatDeg, r.SigmaLat), withError(*r.LonDeg, r.SigmaLon, "°", false)
		}
		if r.Stale {
			remark = strings.TrimSpace("positions have changed: limbwatch track follow  " + remark)
		}
		t.add(r.Passage, r.Kind.String(), fmt.Sprint(r.Marks), shortTime(r.FirstUTC), shortTime(r.LastUTC), lat, lon, when, remark)
	}
	return t.print(w, none)
}

// latWithError writes a latitude with its error.
func latWithError(latDeg float64, sigma *float64) string {
	if sigma == nil || !(*sigma > 0) {
		return tradeAngle(latDeg, 1, "N", "S") + " (error not given)"
	}
	places := figure.Decimals(*sigma, 4)
	return fmt.Sprintf("%s ± %.*f°", tradeAngle(latDeg, places, "N", "S"), places, *sigma)
}

// shortTime is a UTC text to the minute.
func shortTime(utc string) string {
	t, err := time.Parse(time.RFC3339Nano, utc)
	if err != nil {
		return utc
	}
	return t.Format("2006-01-02 15:04Z")
}

func newTrackShowCommand(app *app) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "show PASSAGE",
		Short: "Tell the story of a passage: every sighting of it, and what became of it",
		Long: `Show tells every sighting of a passage and what became of it. Where the days are
enough its height above the photosphere is fitted from its motion, together with its
rate: what stands high seems to cross the disc faster. Beside it stands the height
that was seen at the limb; where it cannot be told the reason is given. What it came
back as a rotation later, and what was split from it, stands there too.`,
		Example: "  limbwatch track show 2026-fil-14",
		Args:    cobra.ExactArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			return runTrackShow(ctx, cmd.OutOrStdout(), k, args[0], asJSON)
		}),
	}
	addJSONFlag(cmd, &asJSON)
	return cmd
}
