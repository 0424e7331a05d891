package observe

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords/north"
)

// SetupParity is whether a set-up mirrors, by the norths of its frames and the reflections
// that were counted. It is kept nowhere else, and so follows when one of them is put right.
//
//	Known     false where no frame of the set-up has a north of its own and nobody counted
//	          its reflections
//	Mirrored  as its frames have it
//	Odds      probability that it is right, 0.5 to 1
//	Why       in words
//	Frames    those that say so; Against: those that say the opposite
type SetupParity struct {
	Known, Mirrored bool
	Odds            float64
	Why             string
	Frames, Against []catalog.FrameID
}

// A parity that somebody typed is a slip now and then, and one that was found is never
// surer than that something was changed between the telescope and the file.
const (
	typedParity = 0.98 // common practice, no source
	// Mirrors are miscounted, and programs turn pictures over (common practice, no source).
	countedMirrors = 0.9
	mostSaid       = 0.995 // of one frame
	surestParity   = 0.999 // of all of a set-up

	leastKeptParity = 0.95 // with less a drift is not given a parity
)

// ParityOfSetup weighs what the frames of a set-up say. The frames of one sitting have
// one say: what was wrong in one of them is wrong in all.
func (k Keeper) ParityOfSetup(ctx context.Context, id catalog.SetupID) (SetupParity, error) {
	return parityOfSetup(k.Store.Read(ctx), id)
}

// ParityOfFrame is what the set-up of a frame is known to do, but for what the frame says
// itself: how it is expected to be.
func (k Keeper) ParityOfFrame(ctx context.Context, id catalog.FrameID) (SetupParity, error) {
	v := k.Store.Read(ctx)
	frame, err := v.Frame(id)
	if err != nil {
		return SetupParity{}, err
	}
	setup, err := setupOf(v, frame)
	if err != nil {
		return SetupParity{}, err
	}
	return parityOfSetup(v, setup, id)
}

// parityOfSetup is ParityOfSetup but for what some frames say.
func parityOfSetup(v *store.View, id catalog.SetupID, except ...catalog.FrameID) (SetupParity, error) {
	var p SetupParity
	if id == 0 {
		return p, nil
	}
	norths, err := v.NorthsOfSetup(id)
	if err != nil {
		return p, err
	}
	setup, err := v.Setup(id)
	if err != nil {
		return p, err
	}
	byMirrors := 0.0
	if setup.ReflectionsKnown {
		byMirrors = math.Log(countedMirrors / (1 - countedMirrors))
		if setup.Reflections%2 == 0 {
			byMirrors = -byMirrors
		}
	}
	sum, witnesses := byMirrors, map[int64]float64{}
	say := map[bool][]catalog.FrameID{}
	for _, n := range norths {
		if slices.Contains(except, n.Frame) {
			continue
		}
		frame, err := v.Frame(n.Frame)
		if err != nil {
			return p, err
		}
		_, odds := saidParity(n)
		weight := math.Log(odds / (1 - odds))
		if !n.Mirrored {
			weight = -weight
		}
		witness := int64(frame.Sitting)
		if n.From != 0 { // held to a frame of another set-up: all of them are one
			witness = -int64(n.From)
		}
		if math.Abs(weight) > math.Abs(witnesses[witness]) {
			sum += weight - witnesses[witness]
			witnesses[witness] = weight
		}
		say[n.Mirrored] = append(say[n.Mirrored], n.Frame)
	}
	if len(say) == 0 && byMirrors == 0 || sum == 0 {
		return p, nil
	}
	p.Known, p.Mirrored = true, sum > 0
	p.Odds = min(1/(1+math.Exp(-math.Abs(sum))), surestParity)
	p.Frames, p.Against = say[p.Mirrored], say[!p.Mirrored]
	p.Why = north.Handed(p.Mirrored) + " by " + inWords(p.Frames, byMirrors != 0 && (byMirrors > 0) == p.Mirrored, setup.Reflections)
	if against := inWords(p.Against, byMirrors != 0 && (byMirrors > 0) != p.Mirrored, setup.Reflections); against != "" {
		p.Why += ", against " + against
	}
	return p, nil
}

// inWords says what speaks for a parity: frames, or the mirrors that were counted.
func inWords(frames []catalog.FrameID, mirrors bool, reflections int) string {
	var words []string
	if len(frames) > 0 {
		words = append(words, "the north of "+framesInWords(frames))
	}
	if mirrors {
		words = append(words, fmt.Sprintf("the number of its reflections, %d", reflections))
	}
	return strings.Join(words, " and ")
}

// oddParity tells when a parity that is said of a frame is not that of its set-up's others.
func oddParity(v *store.View, f catalog.Frame, mirrored bool) (*NorthContradiction, error) {
	id, err := setupOf(v, f)
	if err != nil || id == 0 {
		return nil, err
	}
	p, err := parityOfSetup(v, id, f.ID)
	if err != nil || !p.Known || p.Mirrored == mirrored || p.Odds < leastKeptParity || len(p.Frames) == 0 {
		return nil, err
	}
	setup, err := v.Setup(id)
	if err != nil {
		return nil, err
	}
	return &NorthContradiction{Frame: f.ID, Against: p.Frames[len(p.Frames)-1], Odd: f.ID,
		Words: fmt.Sprintf("it is %s, and the set-up%s is %s: %s would fit, unless something was changed between the telescope and the file, or those lie wrong",
			north.Handed(mirrored), spaced(setup.Name), p.Why, north.Handed(p.Mirrored)),
		Basis: fmt.Sprintf("%s with %s", north.Handed(mirrored), id)}, nil
}

// spaced is a name after a word; a set-up may have none.
func spaced(name string) string {
	if name == "" {
		return ""
	}
	return " " + name
}

// oddParityOf is the warning about it, for a frame with a north of its own.
func oddParityOf(v *store.View, b catalog.Bearings) (*catalog.Warning, error) {
	if b.North == nil {
		return nil, nil
	}
	odd, err := oddParity(v, b.Frame, b.North.Mirrored)
	if err != nil || odd == nil {
		return nil, err
	}
	return &catalog.Warning{Cause: catalog.CauseNorth, Words: odd.Words, Basis: odd.Basis}, nil
}

// oneOut lists the frames whose parity is not that of their set-up, for the set-ups of
// some frames: a north that was kept now may make an earlier one the odd one.
func oneOut(v *store.View, ids []catalog.FrameID) (odd []catalog.FrameID, err error) {
	seen := map[catalog.SetupID]bool{0: true}
	for _, id := range ids {
		frame, err := v.Frame(id)
		if err != nil {
			return nil, err
		}
		setup, err := setupOf(v, frame)
		if err != nil {
			return nil, err
		}
		if seen[setup] {
			continue
		}
		seen[setup] = true
		p, err := parityOfSetup(v, setup)
		if err != nil {
			return nil, err
		}
		odd = append(odd, p.Against...)
	}
	return odd, nil
}

// prior is what the parity of a set-up says of its frames, for coords/north.
func (p SetupParity) prior() (north.Parity, float64) {
	switch {
	case !p.Known:
		return north.Either, 0
	case p.Mirrored:
		return north.MirrorImage, p.Odds
	}
	return north.Upright, p.Odds
}

// framesInWords names a frame, or the last of several with their number.
func framesInWords(ids []catalog.FrameID) string {
	last := ids[len(ids)-1]
	if len(ids) == 1 {
		return "frame " + last.String()
	}
	return fmt.Sprintf("%d frames, the last %s", len(ids), last)
}

// setupOf is the set-up with which a frame was taken; 0 when none is known.
func setupOf(v *store.View, f catalog.Frame) (catalog.SetupID, error) {
	if f.Sitting == 0 || f.Reference {
		return 0, nil
	}
	s, err := v.Sitting(f.Sitting)
	return s.Setup, err
}
