package desk

import (
	"fmt"
	"net/http"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/figure"
	"limbwatch/coords/rotation"
)

// ghost is a mark of the day before where it should be now, with its error.
type ghost struct {
	ID      string       `json:"id"`
	Kind    catalog.Kind `json:"kind"`
	Shape   string       `json:"shape"`
	Name    string       `json:"name"`
	Points  []xy         `json:"points"`
	Ellipse []xy         `json:"ellipse,omitempty"`
}

// notch is a passage that comes round the east edge soon, or goes round the west one.
type notch struct {
	PADeg    float64      `json:"pa_deg"`
	Arriving bool         `json:"arriving"`
	Kind     catalog.Kind `json:"kind"`
	Short    string       `json:"short"`
	Words    string       `json:"words"`
}

// leastAlive is how likely a followed feature must still be to be shown.
const leastAlive = 0.05

// noticeDays is how long ahead the edges are watched for.
const noticeDays = 2

// getGhosts answers GET /frames/{frame}/ghosts: followed features where they should
// be now, the other marks of the day before carried by the law of their kind, and what
// is due at the edges.
func (s *Server) getGhosts(w http.ResponseWriter, r *http.Request) error {
	version, err := s.keeper.Store.Read(r.Context()).Newest()
	if err != nil {
		return err
	}
	if s.unchanged(w, r, version) {
		return nil
	}
	shown, err := s.viewed(r)
	if err != nil {
		return err
	}
	if !shown.northKnown {
		return &userError{status: http.StatusConflict, what: shown.frame.ID.String() + " has no north yet", hint: "answer the second question"}
	}
	ghosts, why, err := s.ghosts(r, shown)
	if err != nil {
		return err
	}
	expected, err := s.keeper.Expect(r.Context(), shown.middle)
	if err != nil {
		return err
	}
	here, err := s.joinedHere(r, shown)
	if err != nil {
		return err
	}
	due := []notch{}
	for _, e := range expected {
		if e.Alive < leastAlive {
			continue
		}
		if g, ok := followed(e, shown); ok && !here[e.Passage.ID] {
			ghosts, why = append(ghosts, g), ""
		}
		due = append(due, notches(e, shown)...)
	}
	answer(w, http.StatusOK, map[string]any{"ghosts": ghosts, "why": why, "due": due})
	return nil
}

// joinedHere are the passages that have a mark on the shown day already: they need no
// ghost.
func (s *Server) joinedHere(r *http.Request, shown viewed) (map[catalog.PassageID]bool, error) {
	query := store.Query{Sitting: shown.frame.Sitting}
	if shown.frame.Sitting == 0 {
		query.Frame = shown.frame.ID
	}
	entries, err := s.keeper.Store.Read(r.Context()).Entries(query)
	here := map[catalog.PassageID]bool{}
	for _, e := range entries {
		if e.Join != nil {
			here[e.Join.Passage] = true
		}
	}
	return here, err
}

// followed is a passage as a ghost, where it should be.
func followed(e observe.Expected, shown viewed) (ghost, bool) {
	p, seen := shown.Project(e.Place.Heliographic, 0)
	if !e.InView || !seen {
		return ghost{}, false
	}
	return ghost{ID: e.Passage.ID.String(), Kind: e.Passage.Kind, Shape: catalog.Point.String(), Name: e.Passage.Name,
		Points: []xy{point(p)}, Ellipse: ellipse(shown.View, e.Place)}, true
}

// notches are the edges that a passage meets soon, at the position angle of the limb
// at its latitude.
func notches(e observe.Expected, shown viewed) (out []notch) {
	for _, edge := range []struct {
		event    follow.Event
		arriving bool
		word     string
	}{{e.EastEdge, true, "comes round the east edge"}, {e.WestEdge, false, "goes round the west edge"}} {
		if !edge.event.Known || edge.event.UTC.Before(shown.middle) || edge.event.UTC.Sub(shown.middle) > noticeDays*24*time.Hour {
			continue
		}
		cmd, crosses := rotation.EdgeCMD(e.Place.B, shown.Face)
		if !crosses {
			continue
		}
		if edge.arriving {
			cmd = -cmd
		}
		at := shown.ProjectPolar(coords.Heliographic{B: e.Place.B, L: (shown.Face.L0 + cmd).Wrap360()}, 0)
		out = append(out, notch{PADeg: at.PositionAngle.Degrees(), Arriving: edge.arriving, Kind: e.Passage.Kind,
			Short: e.Passage.Name + " " + edge.event.UTC.Format("2 Jan 15:04"),
			Words: fmt.Sprintf("%s %s %s UTC, odds %s that it still is then", e.Passage.Name, edge.word, edge.event.UTC.Format("2 Jan 15:04"), figure.Percent(edge.event.Alive))})
	}
	return out
}

// ghosts carries the marks of the newest earlier day within reach to the shown
// frame's time.
func (s *Server) ghosts(r *http.Request, shown viewed) (ghosts []ghost, why string, err error) {
	v := s.keeper.Store.Read(r.Context())
	ghosts = []ghost{}
	traces, err := v.Traces(shown.middle.AddDate(0, 0, -turnedReachDays), shown.middle)
	if err != nil {
		return nil, "", err
	}
	latest, any := lastElsewhere(traces, shown.frame)
	if !any {
		return ghosts, fmt.Sprintf("nothing is expected: no feature is followed, and no mark of the %d days before has a position", turnedReachDays), nil
	}
	query := store.Query{Sitting: latest.Sitting, To: shown.middle}
	if latest.Sitting == 0 {
		query.Frame = latest.Frame
	}
	entries, err := v.Entries(query)
	if err != nil {
		return nil, "", err
	}
	own := map[catalog.FrameID]viewed{}
	for _, e := range entries {
		if e.Join != nil {
			continue // what is followed comes as a passage, with what is known of its own rate
		}
		on, have := own[e.Frame.ID]
		if !have {
			if on, err = s.seenFrame(r, e.Frame.ID); err != nil {
				return nil, "", err
			}
			own[e.Frame.ID] = on
		}
		if g, ok := haunting(e, shown, on); ok {
			ghosts = append(ghosts, g)
		}
	}
	if len(ghosts) == 0 {
		why = "all that was marked the day before has gone behind the limb"
	}
	return ghosts, why, nil
}

// lastElsewhere is the newest of traces that is of another day than a frame and belongs to
// no passage.
func lastElsewhere(traces []store.Trace, f catalog.Frame) (store.Trace, bool) {
	for _, t := range slices.Backward(traces) {
		sameDay := t.Frame == f.ID || t.Sitting != 0 && t.Sitting == f.Sitting
		if t.Passage == 0 && !sameDay {
			return t, true
		}
	}
	return store.Trace{}, false
}

func haunting(e catalog.Entry, shown, on viewed) (ghost, bool) {
	d := e.Position.Disc
	if d == nil {
		return ghost{}, false // where behind or before the limb a prominence stands, nobody knows
	}
	g := ghost{ID: e.Mark.ID.String(), Kind: e.Mark.Kind, Shape: e.Mark.Geometry.Shape.String(), Name: nameOf(e.Mark)}
	prior := rotation.PriorOf(e.Mark.Kind.String())
	days := rotation.Days(e.Position.UTC, shown.middle)
	now := prior.Carry(d.Measured, days)
	p, seen := shown.Project(now.Heliographic, 0)
	if !seen {
		return ghost{}, false
	}
	g.Points = verticesOn(e.Mark, shown, on)
	if g.Points == nil || e.Mark.Geometry.Shape == catalog.Point {
		g.Shape, g.Points = catalog.Point.String(), []xy{point(p)}
	}
	if now.Cov != (coords.Covariance{}) {
		g.Ellipse = ellipse(shown.View, now)
	}
	return g, true
}
