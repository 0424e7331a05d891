package observe

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/north"
	"limbwatch/coords/rotation"
)

// How far in time a picture is held against its neighbours.
const neighbourReach = 3 * 24 * time.Hour

// Telling is what a neighbouring picture tells of a frame's north.
//
//	Frame      of which it is told
//	Neighbour  the other frame, with the north and the disc it has
//	By         "pictures" or "marks"
type Telling struct {
	north.Told
	Frame     catalog.FrameID
	Neighbour catalog.Bearings
	By        string
}

// NorthContradiction is a north that does not go with a neighbour's.
//
//	Frame, Against  the two frames
//	Odd             which of them is rather the wrong one
//	Words           which, how, and what would fit
//	Basis           the norths and discs on which it rests
type NorthContradiction struct {
	Frame, Against, Odd catalog.FrameID
	Words, Basis        string
}

// NorthTellings finds what the nearest pictures with a north, one before and one after,
// tell of a frame's: through what is marked on both, and where that does not decide through
// the patterns of the discs. Neither the frame's own north nor its marks' positions matter. Where nothing decides
// nothing is told. Of a picture without a disc or a time nobody can tell anything.
//
// What it cannot see: all pictures lying wrong alike with north and south exchanged.
func (k Keeper) NorthTellings(ctx context.Context, id catalog.FrameID) (tellings []Telling, err error) {
	b, near, err := k.NorthNeighbours(ctx, id)
	if err != nil {
		return nil, err
	}
	for _, n := range near {
		// The pattern takes a second or two, and what is marked is of it.
		told, err := k.ToldByMarks(ctx, b, n)
		if err == nil && told == nil {
			told, err = k.ToldByPicture(ctx, b, n)
		}
		if err != nil {
			return nil, err
		}
		if told != nil {
			tellings = append(tellings, *told)
		}
	}
	return tellings, nil
}

// NorthNeighbours gives a frame and the nearest frames with a north before and after it;
// none of a frame without a disc or a time.
func (k Keeper) NorthNeighbours(ctx context.Context, id catalog.FrameID) (b catalog.Bearings, near []catalog.Bearings, err error) {
	v := k.Store.Read(ctx)
	b, err = v.Bearings(id)
	if err != nil || b.Disc == nil || instantOf(b).err != nil {
		return b, nil, err
	}
	near, err = neighboursOf(v, b)
	return b, near, err
}

// ToldByMarks is what a neighbour tells of a frame's north through what is marked on both,
// at once; nil where that does not decide.
func (k Keeper) ToldByMarks(ctx context.Context, b, n catalog.Bearings) (*Telling, error) {
	told, err := k.toldByMarks(k.Store.Read(ctx), b, n)
	return telling(told, err, b, n, "marks")
}

// ToldByPicture is what it tells through the patterns of the discs, in a second or two.
func (k Keeper) ToldByPicture(ctx context.Context, b, n catalog.Bearings) (*Telling, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	told, err := k.toldByPicture(b, n)
	return telling(told, err, b, n, "pictures")
}

func telling(told north.Told, err error, b, n catalog.Bearings, by string) (*Telling, error) {
	switch {
	case undecided(err):
		return nil, nil
	case err != nil:
		return nil, err
	}
	return &Telling{Told: told, Frame: b.Frame.ID, Neighbour: n, By: by}, nil
}

var errNothingToHold = errors.New("nothing to hold against it")

// undecided says whether an error only means that nothing can be told.
func undecided(err error) bool {
	_, picture := errors.AsType[*north.IndecisiveError](err)
	_, marks := errors.AsType[*north.MarksIndecisiveError](err)
	_, changed := errors.AsType[*ChangedFileError](err)
	return picture || marks || changed || errors.Is(err, errNothingToHold)
}

// neighboursOf are the nearest frames with a north before and after one: of another look
// at the Sun, for within an hour or two it hardly turns.
func neighboursOf(v *store.View, b catalog.Bearings) ([]catalog.Bearings, error) {
	at := instantOf(b).utc
	all, err := v.BearingsBetween(at.Add(-neighbourReach), at.Add(neighbourReach))
	return neighboursAmong(all, b), err
}

// neighboursAmong finds them in frames in the order of time.
func neighboursAmong(all []catalog.Bearings, b catalog.Bearings) (near []catalog.Bearings) {
	const apart = 2 * time.Hour
	at := instantOf(b).utc
	var before, after *catalog.Bearings
	for i := range all {
		o := &all[i]
		if o.Frame.ID == b.Frame.ID || o.North == nil || o.Disc == nil {
			continue
		}
		switch gap := instantOf(*o).utc.Sub(at); {
		case gap <= -apart && gap >= -neighbourReach:
			before = o
		case gap >= apart && gap <= neighbourReach && after == nil:
			after = o
		}
	}
	for _, o := range []*catalog.Bearings{before, after} {
		if o != nil {
			near = append(near, *o)
		}
	}
	return near
}

// toldByPicture holds the patterns of two pictures against each other.
func (k Keeper) toldByPicture(b, n catalog.Bearings) (north.Told, error) {
	if !b.Frame.HasFile() || !n.Frame.HasFile() || b.Frame.Role == catalog.RoleLimb || n.Frame.Role == catalog.RoleLimb {
		return north.Told{}, errNothingToHold
	}
	view, err := ViewOf(n)
	if err != nil {
		return north.Told{}, errNothingToHold
	}
	var pictures [2]north.Unoriented
	for i, of := range []catalog.Bearings{b, n} {
		pic, _, err := openFrame(of.Frame)
		if err != nil { // gone or changed: then it tells nothing
			return north.Told{}, errNothingToHold
		}
		at := instantOf(of)
		pictures[i] = north.Unoriented{Picture: pic, Limb: of.Disc.Limb, Layer: of.Disc.Layer, UTC: at.utc, SigmaTime: at.sigma}
	}
	old := north.Oriented{Picture: pictures[1].Picture, View: view, UTC: pictures[1].UTC, Lasting: n.North.Lasting}
	return north.ToldByPicture(old, pictures[0], north.MatchOptions{})
}

// toldByMarks holds what is marked on two frames against each other: the places on the
// neighbour, carried by rotation, against the pixels on the frame.
func (k Keeper) toldByMarks(v *store.View, b, n catalog.Bearings) (north.Told, error) {
	days := rotation.Days(instantOf(n).utc, instantOf(b).utc)
	marks, err := unknownMarks(v, b, nil)
	if err != nil {
		return north.Told{}, err
	}
	theirs, err := v.MarksOn(n.Frame.ID)
	if err != nil {
		return north.Told{}, err
	}
	if len(marks) < 2 || len(theirs) < 2 {
		return north.Told{}, errNothingToHold
	}
	at := instantOf(b)
	now := north.Unoriented{Limb: b.Disc.Limb, Layer: b.Disc.Layer, UTC: at.utc, SigmaTime: at.sigma}
	view, err := ViewOf(n)
	if err != nil {
		return north.Told{}, errNothingToHold
	}
	return north.Tell(view.North, days, at.face.P, func(lies coords.North) (coords.North, error) {
		// The error of their north turns all places together: it is added to what is found.
		from := n
		from.North = &catalog.North{Frame: n.Frame.ID, Angle: lies.Angle, Mirrored: lies.Mirrored}
		m, err := north.FromMarks(now, marks, carriedMarks(Derive(from, theirs), theirs, days), north.MatchOptions{})
		m.North.Sigma = coords.Angle(math.Hypot(float64(m.North.Sigma), float64(lies.Sigma)))
		return m.North, err
	})
}

// carriedMarks are the marks of another frame as they should stand some days later.
func carriedMarks(places []catalog.Position, marks []catalog.Mark, days float64) (features []north.Foretold) {
	for i, p := range places {
		kind := marks[i].Kind
		at, known := p.Reading()
		if !known || kind == catalog.Prominence || kind == catalog.Other {
			continue
		}
		prior := rotation.PriorOf(kind.String())
		features = append(features, north.Foretold{Place: prior.Carry(at, days), HeightMm: HeightOf(marks[i]).Mm, Sort: kind.String()})
	}
	return features
}

// Against holds a north that was said for the frame against what a neighbour tells; false
// when they go together. said is celestial, with its error.
func (t Telling) Against(b catalog.Bearings, said coords.North) (NorthContradiction, bool) {
	other := t.Neighbour.Frame.ID
	out := NorthContradiction{Frame: b.Frame.ID, Against: other, Odd: b.Frame.ID, Basis: liesSo(b) + basisApart + liesSo(t.Neighbour)}
	when := fmt.Sprintf("%.1f days before", t.Days)
	if t.Days < 0 {
		when = fmt.Sprintf("%.1f days after", -t.Days)
	}
	how := north.Contradicts(said, t.Found)
	does := "its north does not go with that of " + other.String() + ", " + when
	wrong := t.Theirs.InWords(said, t.Found)
	if t.Twins {
		wrong = "is half a turn off or has east and west exchanged"
	}
	twin := t.Twins && how == north.NorthSouth
	switch {
	case t.Theirs == north.Agrees && how == north.Agrees:
		return out, false
	case t.Theirs == north.Agrees:
		out.Words = fmt.Sprintf("%s: by the %s it %s; %s would fit", does, t.By, how.InWords(said, t.Found), fitting(t.Found))
	case how == north.Agrees || twin:
		out.Odd = other
		out.Words = fmt.Sprintf("%s: by the %s that one %s", does, t.By, wrong)
	case how == t.Theirs || t.Twins && (how == north.EastWest || how == north.HalfTurned):
		out.Words = fmt.Sprintf("by its %s and those of %s, %s, the Sun would turn backwards or about another axis: north %s, in both", t.By, other, when, wrong)
	default:
		out.Words = fmt.Sprintf("%s: by the %s that one %s, and here %s would fit", does, t.By, wrong, fitting(t.Found))
	}
	return out, true
}

// fitting tells a north that would fit.
func fitting(n coords.North) string {
	parity := "not mirrored"
	if n.Mirrored {
		parity = "mirrored"
	}
	return fmt.Sprintf("%.1f° ± %.1f°, %s,", n.Angle.Wrap180().Degrees(), n.Sigma.Degrees(), parity)
}

// HeldAgainst judges a north that was said by all that was told: what contradicts it.
// Where one neighbour contradicts and another agrees, the first is the odd one, and the
// contradiction is told of that.
func HeldAgainst(b catalog.Bearings, said coords.North, tellings []Telling) (found []NorthContradiction) {
	agreed := false
	for _, t := range tellings {
		c, against := t.Against(b, said)
		agreed = agreed || !against
		if against {
			found = append(found, c)
		}
	}
	for i := range found {
		c := &found[i]
		switch {
		case c.Odd == c.Against:
		case agreed:
			c.Odd = c.Against
			c.Words += fmt.Sprintf(" (another neighbour agrees with %s: it is rather %s that lies otherwise)", c.Frame, c.Against)
		case len(found) > 1:
			c.Words += " (unlike both of its neighbours)"
		default:
			c.Words += fmt.Sprintf(", unless it is %s that lies wrong", c.Against)
		}
		c.Words = strings.ReplaceAll(c.Words, ",,", ",")
	}
	return found
}

// Heeding is a keeper that holds a north which it keeps against what was told of it: what
// contradicts it becomes a warning of the frame in the same operation, or of the neighbour
// where another one agrees with the frame.
func (k Keeper) Heeding(tellings []Telling) Keeper {
	k.heeds = tellings
	return k
}

// HoldNorth holds the north that a frame has against what was told of it, and its parity
// against that of its set-up.
func (k Keeper) HoldNorth(ctx context.Context, id catalog.FrameID, tellings []Telling) ([]NorthContradiction, error) {
	b, err := k.Store.Read(ctx).Bearings(id)
	if err != nil {
		return nil, err
	}
	view, err := ViewOf(b)
	if err != nil {
		return nil, nil // it lies nowhere; that is told with its positions
	}
	return k.HoldSaid(ctx, id, view.North, tellings)
}

// HoldSaid does the same for a north that is not kept yet: celestial, with its error.
func (k Keeper) HoldSaid(ctx context.Context, id catalog.FrameID, said coords.North, tellings []Telling) ([]NorthContradiction, error) {
	v := k.Store.Read(ctx)
	b, err := v.Bearings(id)
	if err != nil {
		return nil, err
	}
	found := HeldAgainst(b, said, tellings)
	odd, err := oddParity(v, b.Frame, said.Mirrored)
	if err == nil && odd != nil {
		found = append(found, *odd)
	}
	return found, err
}

// HeedNorth keeps as warnings what contradicts the north that a frame has, found after it
// was kept.
func (k Keeper) HeedNorth(ctx context.Context, id catalog.FrameID, tellings []Telling) error {
	return k.As(byItself).update(ctx, fmt.Sprintf("north held against its neighbours %s", id), func(tx *store.Tx) error {
		return heed(tx, id, tellings)
	})
}

// heed keeps the warnings that follow from what was told of a frame's north.
func heed(tx *store.Tx, id catalog.FrameID, tellings []Telling) error {
	b, err := tx.Bearings(id)
	if err != nil {
		return err
	}
	view, err := ViewOf(b)
	if err != nil {
		return nil
	}
	for _, c := range HeldAgainst(b, view.North, tellings) {
		words := c.Words
		if c.Odd != c.Frame {
			words = fmt.Sprintf("of %s: %s", c.Frame, words)
		}
		if err := warn(tx, catalog.Warning{Frame: c.Odd, Cause: catalog.CauseNorth, Words: words, Basis: c.Basis}); err != nil {
			return err
		}
	}
	return nil
}
