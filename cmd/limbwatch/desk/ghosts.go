package desk

import (
	"fmt"
	"net/http"
	"slices"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/rotation"
)

// ghost is a mark of the day before where it should be now, with its error.
type ghost struct {
	ID      string        `json:"id"`
	Kind    catalog.Kind  `json:"kind"`
	Shape   catalog.Shape `json:"shape"`
	Name    string        `json:"name"`
	Points  []xy          `json:"points"`
	Ellipse []xy          `json:"ellipse,omitempty"`
}

// getGhosts answers GET /frames/{frame}/ghosts.
func (s *Server) getGhosts(w http.ResponseWriter, r *http.Request) error {
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
	answer(w, http.StatusOK, map[string]any{"ghosts": ghosts, "why": why})
	return nil
}

// ghosts carries the marks of the newest earlier day within reach to the shown
// frame's time.
func (s *Server) ghosts(r *http.Request, shown viewed) (ghosts []ghost, why string, err error) {
	read := s.keeper.Store.Read(r.Context())
	entries, err := read.Entries(store.Query{From: shown.middle.AddDate(0, 0, -turnedReachDays), To: shown.middle})
	if err != nil {
		return nil, "", err
	}
	entries = slices.DeleteFunc(entries, func(e catalog.Entry) bool {
		return dayKey(e.Frame) == dayKey(shown.frame) || e.Position.Disc == nil && e.Position.Edge == nil
	})
	ghosts = []ghost{}
	if len(entries) == 0 {
		return ghosts, fmt.Sprintf("no marks with positions on the %d days before", turnedReachDays), nil
	}
	latest := dayKey(entries[len(entries)-1].Frame)
	own := map[catalog.FrameID]viewed{}
	for _, e := range entries {
		if dayKey(e.Frame) != latest {
			continue
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

func haunting(e catalog.Entry, shown, on viewed) (ghost, bool) {
	d := e.Position.Disc
	if d == nil {
		return ghost{}, false // where behind or before the limb a prominence stands, nobody knows
	}
	g := ghost{ID: e.Mark.ID.String(), Kind: e.Mark.Kind, Shape: e.Mark.Geometry.Shape, Name: nameOf(e.Mark)}
	prior := rotation.PriorOf(e.Mark.Kind.String())
	days := rotation.Days(e.Position.UTC, shown.middle)
	now := prior.Carry(d.Measured, days)
	p, seen := shown.Project(now.Heliographic, 0)
	if !seen {
		return ghost{}, false
	}
	g.Points = verticesOn(e.Mark, shown, on)
	if g.Points == nil || g.Shape == catalog.Point {
		g.Shape, g.Points = catalog.Point, []xy{point(p)}
	}
	if now.Cov != (coords.Covariance{}) {
		g.Ellipse = ellipse(shown.View, now)
	}
	return g, true
}
