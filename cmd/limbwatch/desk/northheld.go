package desk

import (
	"context"
	"net/http"
	"sync"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
)

// comparisons keeps what the patterns of two pictures told of one's north, which takes
// seconds to find: the dial is turned over the same two many times. One is made at a time.
type comparisons struct {
	slot chan struct{}
	mu   sync.Mutex
	told map[comparison]*observe.Telling // nil: they do not decide
}

// comparison is what is compared: the frame with its disc, whatever its own north, and
// the neighbour with its disc and north, each as it was then.
type comparison struct {
	frame, neighbour catalog.FrameID
	revisions        [5]int64
	clockS           [2]float64
}

// mostCompared is how many comparisons are kept.
const mostCompared = 200

func newComparisons() *comparisons {
	return &comparisons{slot: make(chan struct{}, 1), told: map[comparison]*observe.Telling{}}
}

func comparisonOf(b, n catalog.Bearings) comparison {
	return comparison{frame: b.Frame.ID, neighbour: n.Frame.ID, clockS: [2]float64{b.ClockCorrectionS, n.ClockCorrectionS},
		revisions: [5]int64{b.Frame.Revision, b.Disc.Revision, n.Frame.Revision, n.Disc.Revision, n.North.Revision}}
}

func (c *comparisons) known(of comparison) (told *observe.Telling, known bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	told, known = c.told[of]
	return told, known
}

// find compares two pictures, unless that was done while it waited for its turn.
func (c *comparisons) find(ctx context.Context, k observe.Keeper, b, n catalog.Bearings) (*observe.Telling, error) {
	select {
	case c.slot <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	defer func() { <-c.slot }()
	of := comparisonOf(b, n)
	if told, known := c.known(of); known {
		return told, nil
	}
	told, err := k.ToldByPicture(ctx, b, n)
	if err != nil {
		return nil, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(c.told) >= mostCompared {
		clear(c.told)
	}
	c.told[of] = told
	return told, nil
}

// tellings are what the neighbours tell of a frame's north: through what is marked, and
// through pictures as far as they were compared already; with patient all are. waiting
// counts those that were not.
func (s *Server) tellings(ctx context.Context, id catalog.FrameID, patient bool) (all []observe.Telling, waiting []catalog.FrameID, err error) {
	b, near, err := s.keeper.NorthNeighbours(ctx, id)
	if err != nil {
		return nil, nil, err
	}
	for _, n := range near {
		told, err := s.keeper.ToldByMarks(ctx, b, n)
		if err == nil && told == nil {
			known := false
			told, known = s.compared.known(comparisonOf(b, n))
			if !known && patient {
				told, err = s.compared.find(ctx, s.keeper, b, n)
			} else if !known {
				waiting = append(waiting, n.Frame.ID)
			}
		}
		if err != nil {
			return nil, nil, err
		}
		if told != nil {
			all = append(all, *told)
		}
	}
	return all, waiting, nil
}

// getNorthHeld answers GET /frames/{frame}/north/held?north_deg=&mirrored=&sigma_north_deg=&patient=true:
// what contradicts a north before it is kept.
func (s *Server) getNorthHeld(w http.ResponseWriter, r *http.Request) error {
	v, err := s.viewed(r)
	if err != nil {
		return err
	}
	another, err := triedIn(r, [3]string{})
	if err == nil && another.NorthDeg == nil {
		err = bad("no north to hold", "send north_deg")
	}
	if err != nil {
		return err
	}
	shown, _, err := another.on(v)
	if err != nil {
		return err
	}
	tellings, waiting, err := s.tellings(r.Context(), v.frame.ID, r.FormValue("patient") == "true")
	if err != nil {
		return err
	}
	found, err := s.keeper.HoldSaid(r.Context(), v.frame.ID, shown.North, tellings)
	if err != nil {
		return err
	}
	words := []string{}
	for _, c := range found {
		words = append(words, c.Words)
	}
	if waiting == nil {
		waiting = []catalog.FrameID{}
	}
	answer(w, http.StatusOK, map[string]any{"contradictions": words, "agreeing": agreeing(tellings, found), "waiting": waiting})
	return nil
}

// agreeing are the neighbours with which a north goes together.
func agreeing(tellings []observe.Telling, found []observe.NorthContradiction) []catalog.FrameID {
	out := []catalog.FrameID{}
	for _, t := range tellings {
		against := false
		for _, c := range found {
			against = against || c.Against == t.Neighbour.Frame.ID
		}
		if !against {
			out = append(out, t.Neighbour.Frame.ID)
		}
	}
	return out
}

// holdLater holds a north that was kept against the pictures of its neighbours, where
// nobody had waited for that: what contradicts it becomes a warning all the same.
func (s *Server) holdLater(id catalog.FrameID) {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	go func() {
		select {
		case <-s.closing:
			cancel()
		case <-ctx.Done():
		}
	}()
	all, _, err := s.tellings(ctx, id, true)
	if err == nil {
		var found []observe.NorthContradiction
		if found, err = s.keeper.HoldNorth(ctx, id, all); err == nil && len(found) > 0 {
			err = s.keeper.HeedNorth(ctx, id, all)
		}
	}
	if err != nil && ctx.Err() == nil && !isMissing(err) {
		s.deps.Log.Warn("desk: a north was not held against its neighbours", "frame", id, "error", err)
	}
}
