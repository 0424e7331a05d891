package desk

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"
	"sync"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/coords"
	"limbwatch/coords/north"
	"limbwatch/coords/rotation"
)

// twins is what the Sun's turning says of a frame's north, with the pictures that it
// was compared with. The last one is kept, so that what is taken is what was shown.
type twins struct {
	sync.Mutex
	frames []catalog.FrameID
	found  north.Turning
}

// How many pictures are compared with one, and how far apart in time.
const (
	turningPictures = 3
	turningFrom     = 0.25 // days
	turningTo       = 3.5
)

// turningFrames are the frame and the pictures of other days to compare it with, of its
// own set-up first and about a day apart.
func (s *Server) turningFrames(ctx context.Context, v viewed) ([]catalog.FrameID, error) {
	reach := int(math.Ceil(turningTo))
	near, err := s.keeper.Store.Read(ctx).BearingsBetween(v.middle.AddDate(0, 0, -reach), v.middle.AddDate(0, 0, reach))
	if err != nil {
		return nil, err
	}
	days := func(b catalog.Bearings) float64 {
		return math.Abs(rotation.Days(v.middle, b.Frame.Middle(b.ClockCorrectionS)))
	}
	near = slices.DeleteFunc(near, func(b catalog.Bearings) bool {
		d := days(b)
		return d < turningFrom || d > turningTo || b.Disc == nil || !b.Frame.HasFile() || b.Frame.Role == catalog.RoleLimb
	})
	slices.SortStableFunc(near, func(a, b catalog.Bearings) int {
		return cmp.Compare(math.Abs(math.Log(days(a)/1.2)), math.Abs(math.Log(days(b)/1.2)))
	})
	frames := []catalog.FrameID{v.frame.ID}
	var sittings []catalog.SittingID
	for _, b := range near {
		if len(frames) > turningPictures || slices.Contains(sittings, b.Frame.Sitting) && b.Frame.Sitting != 0 {
			continue
		}
		frames, sittings = append(frames, b.Frame.ID), append(sittings, b.Frame.Sitting)
	}
	if len(frames) < 2 {
		return nil, fmt.Errorf("no picture between %.0f hours and %.1f days away shows the disc", turningFrom*24, turningTo)
	}
	return frames, nil
}

// twin is one of the answers, for the frame that is shown.
//
//	Words     what it is; Latitudes: what it makes of the marks
//	Geometry  its grid, in the frame's pixels; Up turns its solar north up
type twin struct {
	Answer    int         `json:"answer"`
	Odds      float64     `json:"odds"`
	NorthDeg  float64     `json:"north_deg"`
	Mirrored  bool        `json:"mirrored"`
	SigmaDeg  float64     `json:"sigma_north_deg"`
	Words     string      `json:"words"`
	Latitudes []string    `json:"latitudes"`
	Geometry  geometry    `json:"geometry"`
	Up        orientation `json:"up"`
}

// getNorthTwins answers GET /frames/{frame}/north/twins?same_roll=true&alt_az=true. A drift
// among the pictures of the sitting counts.
func (s *Server) getNorthTwins(w http.ResponseWriter, r *http.Request) error {
	v, err := s.viewed(r)
	if err != nil {
		return err
	}
	frames, err := s.turningFrames(r.Context(), v)
	if err != nil {
		return northRefusal(err)
	}
	request := observe.TurningRequest{Frames: frames, SameRoll: r.FormValue("same_roll") == "true", AltAz: r.FormValue("alt_az") == "true", Drift: s.driftLine(r.Context(), v)}
	found, err := s.keeper.SolveTurning(r.Context(), request)
	if refused, undecided := errors.AsType[*north.TurningIndecisiveError](err); undecided {
		hint := "a picture of the next day may decide; or take another way to north"
		hours, err := s.keeper.HoursThatFit(r.Context(), frames, refused.Turning)
		for _, h := range hours {
			hint = h.Words()
		}
		return errors.Join(&userError{status: http.StatusUnprocessableEntity, what: refused.Error(), hint: hint}, err)
	}
	if err != nil {
		return err
	}
	hours, err := s.keeper.HoursThatFit(r.Context(), frames, found)
	if err != nil {
		return err
	}
	s.twins.Lock()
	s.twins.frames, s.twins.found = frames, found
	s.twins.Unlock()
	marks, err := s.keeper.Store.Read(r.Context()).MarksOn(v.frame.ID)
	if err != nil {
		return err
	}
	out := []twin{}
	for k, a := range found.Answers {
		if a.Norths[0] == nil {
			return &userError{status: http.StatusUnprocessableEntity, what: "this picture is joined to none of the others", hint: "take another way to north"}
		}
		out = append(out, twinOf(v, marks, k, a.Odds, *a.Norths[0]))
	}
	odd := []string{}
	for _, h := range hours {
		odd = append(odd, h.Words())
	}
	answer(w, http.StatusOK, map[string]any{
		"frames": frames, "decided": found.Decided, "same_roll": request.SameRoll, "alt_az": request.AltAz, "answers": out,
		"words": observe.TurningWhy(found, 0, 0), "others": othersInWords(frames), "clues": cluesOf(found), "hours": odd,
	})
	return nil
}

func twinOf(v viewed, marks []catalog.Mark, k int, odds float64, n coords.North) twin {
	v.North = n
	t := twin{Answer: k + 1, Odds: odds, NorthDeg: n.Angle.Wrap180().Degrees(), Mirrored: n.Mirrored, SigmaDeg: n.Sigma.Degrees(),
		Words:     fmt.Sprintf("%s, north at %s", north.Handed(n.Mirrored), signed(n.Angle.Wrap180(), n.Sigma)),
		Latitudes: []string{}, Geometry: draw(v.View, true, gridDegrees), Up: upward(n, v.Face.P)}
	b := v.bearings
	kept := catalog.North{Frame: v.frame.ID, Angle: n.Angle, Mirrored: n.Mirrored, Sigma: n.Sigma, Method: north.MethodTurning}
	b.North = &kept
	for i, p := range observe.Derive(b, marks) {
		if p.Disc != nil && len(t.Latitudes) < 4 {
			t.Latitudes = append(t.Latitudes, fmt.Sprintf("%s %s at %s", marks[i].ID, marks[i].Kind, latText(p.Disc.B, 0)))
		}
	}
	return t
}

// clue is what one thing says of the first answer by itself.
type clue struct {
	By   string  `json:"by"`
	Odds float64 `json:"odds"`
}

func cluesOf(t north.Turning) []clue {
	out := []clue{}
	for _, c := range t.Clues {
		out = append(out, clue{c.By, c.Odds})
	}
	return out
}

func othersInWords(frames []catalog.FrameID) string {
	names := make([]string, 0, len(frames))
	for _, id := range frames[1:] {
		names = append(names, id.String())
	}
	return strings.Join(names, ", ")
}

// postNorthTwins answers POST /frames/{frame}/north/twins: one of the answers that were
// shown is kept for all frames compared.
func (s *Server) postNorthTwins(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Answer int `json:"answer"`
	}
	id, err := frameOf(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err != nil {
		return err
	}
	s.twins.Lock()
	frames, found := s.twins.frames, s.twins.found
	s.twins.Unlock()
	if len(frames) == 0 || frames[0] != id {
		return &userError{status: http.StatusConflict, what: "other pictures were compared meanwhile", hint: "ask for the Sun's turning again"}
	}
	if in.Answer < 1 || in.Answer > len(found.Answers) {
		return bad(fmt.Sprintf("answer %d: there are %d", in.Answer, len(found.Answers)), "want the number of one that was shown")
	}
	if err := s.keeper.KeepTurning(r.Context(), frames, found, in.Answer-1); err != nil {
		return err
	}
	return s.done(w, r)
}
