package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/coords/north"
)

// turningOptions are what "north rotation" was told.
type turningOptions struct {
	sameRoll, altAz, dryRun, json bool
	same, drift                   []string
	take                          int
	places                        solveOptions // of marks, as "north solve" takes them
	northSide, southSide          []string
}

func newNorthRotationCommand(app *app) *cobra.Command {
	var opts turningOptions
	cmd := &cobra.Command{
		Use:   "rotation FRAME FRAME...",
		Short: "Find the north of several frames at once from the Sun's own turning; none need have one",
		Long: northLong + `

The Sun turns by 13 degrees a day, along its parallels and in a known sense. So two
or more frames of different days show its axis, though none of them is oriented:
their patterns are held against each other in every direction of the axis, and marks
that carry the same label count too (--same names others). Frames more than three and
a half days apart are not: features change too much.

North and south exchanged, with east and west as they are, moves nearly alike: a
twin, mirrored and turned by half a turn. Two frames mostly leave both, and nothing
is kept; --take 1 or --take 2 keeps one, and its parity is then your word. What
decides, each with odds of its own that are shown:
  --same-roll   the camera was not touched between the days, on a polar-aligned
                mount: when B0 is 3 degrees or more
  --alt-az      an alt-azimuth mount, on which the field turns as the Sun climbs and
                sinks: frames hours apart, with the camera untouched
  --drift       frames with the tracking off: west as the sky turns and west as the
                Sun does differ by P, one way or the other
  --known, --list   places of marks, as "limbwatch north solve" takes them; marks
                that carry no label of the list are held against all of its places
  --north-of-equator, --south-of-equator   marks whose hemisphere is known
  three to five days, when B0 is large
  the set-up: norths of its other frames, and the reflections kept with it

A frame that has a north of another way keeps it, and the others are held to it. The
frames hang together: when one gets a better north later, by whatever way, the
others follow, and limbwatch undo takes all back at once.

Features drift by some tenths of a degree a day by themselves, which sets the error:
half a degree to two degrees.

Only the differences of the times are tested: of three days or more, one whose hour
stands out is told. An hour that is wrong in all of them cannot be seen so.`,
		Example: `  limbwatch north rotation F1 F2
  limbwatch north rotation F1 F2 F5 --same-roll
  limbwatch north rotation F1 F2 --same M1,M7 --same M3,M9 --json
  limbwatch north rotation F1 F2 --drift F2,F3,F4
  limbwatch north rotation F1 F2 F3 --alt-az --north-of-equator M2
  limbwatch north rotation F1 F2 --list regions.csv
  limbwatch north rotation F1 F2 --take 1`,
		Args: cobra.MinimumNArgs(2),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			return opts.run(ctx, k, cmd, args)
		}),
	}
	f := cmd.Flags()
	f.BoolVar(&opts.sameRoll, "same-roll", false, "the camera was not touched between the frames")
	f.BoolVar(&opts.altAz, "alt-az", false, "the mount is an alt-azimuth one: the zenith stays put in the frames of a sitting, with --same-roll in all")
	f.StringSliceVar(&opts.drift, "drift", nil, "`frames` taken with the tracking off, the camera as it was in one of those named")
	f.StringArrayVar(&opts.places.known, "known", nil, "a mark and its known place, as `M3=N08E14`; may be said again")
	f.StringVar(&opts.places.list, "list", "", "a CSV `file` of known places, for marks by their label or alias, else for all marks together")
	f.StringVar(&opts.places.listAt, "list-at", "", "the `time` for which the places of --known hold (default: that of the frame)")
	f.Float64Var(&opts.places.sigmaDeg, "sigma-deg", 0.5, "standard error of known places along each direction, in `degrees`")
	f.StringSliceVar(&opts.northSide, "north-of-equator", nil, "`marks` that lie north of the Sun's equator")
	f.StringSliceVar(&opts.southSide, "south-of-equator", nil, "`marks` that lie south of it")
	f.StringArrayVar(&opts.same, "same", nil, "`marks` of one feature on several of the frames, as M1,M7; may be said again")
	f.IntVar(&opts.take, "take", 0, "keep this `answer` of the two: 1 or 2")
	f.BoolVar(&opts.dryRun, "dry-run", false, "show what is found, keep nothing")
	addJSONFlag(cmd, &opts.json)
	cmd.MarkFlagsMutuallyExclusive("take", "dry-run")
	return cmd
}

func (o *turningOptions) run(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
	if cmd.Flags().Changed("take") && o.take != 1 && o.take != 2 {
		return misuse("--take %d: want 1 or 2, as the answers are numbered", o.take)
	}
	request, err := o.request(args)
	if err == nil {
		err = o.clues(ctx, k, &request)
	}
	if err != nil {
		return err
	}
	work := newBar(cmd.ErrOrStderr(), len(args)*(len(args)-1)/2, "comparing frames")
	request.Progress = func(done, _ int) { work.at(done) }
	found, err := k.SolveTurning(ctx, request)
	work.clear()
	if err != nil {
		return adviseTurning(ctx, k, request.Frames, err)
	}
	kept := -1
	switch {
	case o.dryRun:
	case o.take > len(found.Answers):
		return misuse("--take %d: there is one answer only, it is decided", o.take)
	case o.take > 0:
		kept = o.take - 1
	case found.Decided:
		kept = 0
	}
	if kept >= 0 {
		if err := k.KeepTurning(ctx, request.Frames, found, kept); err != nil {
			return err
		}
		for _, id := range request.Frames { // the pictures were held against each other, not against the set-up's
			if err := tellNorth(ctx, k, cmd, id, nil); err != nil {
				return err
			}
		}
	}
	hours, err := k.HoursThatFit(ctx, request.Frames, found)
	if err != nil {
		return err
	}
	row := turningRowOf(request.Frames, found, kept, hours)
	if o.json {
		return printJSON(cmd.OutOrStdout(), row)
	}
	return row.print(cmd.OutOrStdout(), args)
}

func (o *turningOptions) request(args []string) (r observe.TurningRequest, err error) {
	r.SameRoll, r.AltAz = o.sameRoll, o.altAz
	for _, text := range args {
		id, err := parseFrame(text)
		if err != nil {
			return r, err
		}
		r.Frames = append(r.Frames, id)
	}
	for _, text := range o.same {
		ids, err := parseMarks(strings.Split(text, ","))
		if err != nil {
			return r, err
		}
		r.Same = append(r.Same, ids)
	}
	return r, nil
}

// clues reads what else tells the twins apart.
func (o *turningOptions) clues(ctx context.Context, k observe.Keeper, r *observe.TurningRequest) error {
	for _, text := range o.drift {
		id, err := parseFrame(text)
		if err != nil {
			return err
		}
		r.Drift = append(r.Drift, id)
	}
	if !(o.places.sigmaDeg > 0) {
		return misuse("--sigma-deg %v: an error is more than 0", o.places.sigmaDeg)
	}
	for _, text := range o.places.known {
		name, _, _ := strings.Cut(text, "=")
		id, err := parseMark(name)
		if err != nil {
			return err
		}
		mark, err := k.Store.Read(ctx).Mark(id)
		if err != nil {
			return err
		}
		one := solveOptions{known: []string{text}, listAt: o.places.listAt, sigmaDeg: o.places.sigmaDeg}
		places, err := one.places(ctx, k, mark.Frame)
		if err != nil {
			return err
		}
		r.Known = append(r.Known, places...)
	}
	if o.places.list != "" {
		list, err := o.places.readList()
		if err != nil {
			return err
		}
		for _, id := range r.Frames {
			places, err := k.FeaturesByLabel(ctx, id, byLabel(list))
			if err != nil {
				return err
			}
			r.Known = append(r.Known, places...)
		}
		r.Listed = otherPlaces(list, r.Known)
	}
	r.Sides = map[catalog.MarkID]bool{}
	for _, side := range []struct {
		marks   []string
		isNorth bool
	}{{o.northSide, true}, {o.southSide, false}} {
		for _, text := range side.marks {
			id, err := parseMark(text)
			if err != nil {
				return err
			}
			if _, twice := r.Sides[id]; twice {
				return misuse("%s is named twice: it lies north of the equator or south", id)
			}
			r.Sides[id] = side.isNorth
		}
	}
	return nil
}

// otherPlaces are the places of a list that are of none of the marks.
func otherPlaces(list []listedPlace, known []observe.KnownFeature) (others []observe.ListedPlace) {
	for _, p := range list {
		of := slices.ContainsFunc(known, func(k observe.KnownFeature) bool {
			k.Mark = 0
			return k == p.KnownFeature
		})
		if !of {
			others = append(others, observe.ListedPlace{Name: p.label, KnownFeature: p.KnownFeature})
		}
	}
	return others
}

// adviseTurning adds what to do where the pictures do not decide, and an hour that does not
// fit, which may be why.
func adviseTurning(ctx context.Context, k observe.Keeper, frames []catalog.FrameID, err error) error {
	refused, ok := errors.AsType[*north.TurningIndecisiveError](err)
	if !ok {
		return err
	}
	hint := "leave --same-roll out if the camera was touched; take frames one to two days apart that show more; mark features that are plainly the same and name them with --same; or let the Sun drift: limbwatch north solve --help"
	hours, hoursErr := k.HoursThatFit(ctx, frames, refused.Turning)
	if hoursErr != nil {
		return hoursErr
	}
	for _, h := range hours {
		hint = h.Words() + "; " + hint
	}
	return withHint(err, "%s", hint)
}

// turningRow is what "north rotation" found, as JSON has it.
type turningRow struct {
	Decided bool               `json:"decided"`
	Kept    *int               `json:"kept_answer"`
	Answers []turningAnswerRow `json:"answers"`
	Clues   []turningClueRow   `json:"clues"`
	Pairs   []turningPairRow   `json:"pairs"`
	Apart   []catalog.FrameID  `json:"frames_not_joined"`
	Hours   []oddHourRow       `json:"odd_hours"`
}

type turningAnswerRow struct {
	Odds   float64           `json:"odds"`
	Norths []turningNorthRow `json:"norths"`
}

type turningNorthRow struct {
	Frame         catalog.FrameID `json:"frame"`
	NorthDeg      float64         `json:"north_deg"`
	Mirrored      bool            `json:"mirrored"`
	SigmaNorthDeg float64         `json:"sigma_north_deg"`
}

// turningClueRow is what one thing says by itself.
type turningClueRow struct {
	By   string  `json:"by"`
	Odds float64 `json:"odds_of_answer_1"`
}

type turningPairRow struct {
	Frames      [2]catalog.FrameID `json:"frames"`
	Days        float64            `json:"days"`
	Correlation float64            `json:"correlation"`
	Rival       float64            `json:"rival_correlation"`
	Chance      float64            `json:"chance_correlation"`
	Features    float64            `json:"features"`
	ByMarks     bool               `json:"by_marks"`
	Refused     string             `json:"refused,omitempty"`
}

type oddHourRow struct {
	Frame     catalog.FrameID `json:"frame"`
	OffHours  float64         `json:"off_hours"`
	SigmaHour float64         `json:"sigma_hours"`
	Fits      string          `json:"fits_utc"`
	Words     string          `json:"words"`
}

func turningRowOf(frames []catalog.FrameID, t north.Turning, kept int, hours []observe.HourThatFits) turningRow {
	row := turningRow{Decided: t.Decided, Answers: []turningAnswerRow{}, Clues: []turningClueRow{}, Pairs: []turningPairRow{}, Apart: []catalog.FrameID{}, Hours: []oddHourRow{}}
	if kept >= 0 {
		number := kept + 1
		row.Kept = &number
	}
	for _, a := range t.Answers {
		answer := turningAnswerRow{Odds: a.Odds}
		for i, n := range a.Norths {
			if n != nil {
				answer.Norths = append(answer.Norths, turningNorthRow{frames[i], n.Angle.Wrap180().Degrees(), n.Mirrored, n.Sigma.Degrees()})
			}
		}
		row.Answers = append(row.Answers, answer)
	}
	for _, c := range t.Clues {
		row.Clues = append(row.Clues, turningClueRow{c.By, c.Odds})
	}
	for _, p := range t.Pairs {
		row.Pairs = append(row.Pairs, turningPairRow{[2]catalog.FrameID{frames[p.Old], frames[p.Now]}, p.Days, p.Correlation, p.Rival, p.Noise, p.Features, p.ByMarks, p.Refused})
	}
	for _, i := range t.Apart {
		row.Apart = append(row.Apart, frames[i])
	}
	for _, h := range hours {
		row.Hours = append(row.Hours, oddHourRow{h.Frame, h.Fits.Sub(h.Says).Hours(), h.Sigma.Hours(), formatUTC(h.Fits.Truncate(time.Minute)), h.Words()})
	}
	return row
}

// print writes the answers as a table, and what decides between them.
func (r turningRow) print(w io.Writer, args []string) error {
	t := newTable("answer", "probability", "frame", "north", "", "")
	for i, a := range r.Answers {
		number, odds := fmt.Sprint(i+1), fmt.Sprintf("%.3f", math.Floor(a.Odds*1000)/1000)
		for _, n := range a.Norths {
			t.add(number, odds, n.Frame.String(), fmt.Sprintf("%.1f°", n.NorthDeg), fmt.Sprintf("± %.1f°", n.SigmaNorthDeg), north.Handed(n.Mirrored))
			number, odds = "", ""
		}
	}
	if err := t.print(w, ""); err != nil {
		return err
	}
	words := make([]string, len(r.Clues))
	for i, c := range r.Clues {
		words[i] = fmt.Sprintf("%s %.3f", c.By, math.Floor(c.Odds*1000)/1000)
	}
	fmt.Fprintf(w, "answer 1 by each alone: %s\n", strings.Join(words, ", "))
	for _, p := range r.Pairs {
		if p.Refused != "" {
			fmt.Fprintf(w, "%s and %s were not used: %s\n", p.Frames[0], p.Frames[1], p.Refused)
		}
	}
	for _, id := range r.Apart {
		fmt.Fprintf(w, "%s is joined to none of the others: it gets no north\n", id)
	}
	for _, h := range r.Hours {
		fmt.Fprintf(w, "%s; see limbwatch frame edit %s --at\n", h.Words, h.Frame)
	}
	switch {
	case r.Kept != nil:
		fmt.Fprintf(w, "kept: answer %d (limbwatch undo takes it back)\n", *r.Kept)
	case r.Decided:
		fmt.Fprintln(w, "decided; nothing was kept")
	default:
		fmt.Fprintln(w, "not decided: the two are twins, north and south exchanged; nothing was kept.")
		fmt.Fprintf(w, "What decides: let the Sun drift for two minutes with the drive off (limbwatch north solve);\n--same-roll if the camera was not touched between; a mark whose hemisphere is known (--north-of-equator);\nor take one: limbwatch north rotation %s --take 1\n", strings.Join(args, " "))
	}
	return nil
}
