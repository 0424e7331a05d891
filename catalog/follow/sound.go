package follow

import (
	"fmt"
	"math"
)

// sound is the last look at what was found, so that no figure that is none can be kept:
// odds are chances, and all states have places and errors. It names the sightings with
// which it went wrong.
func (w *web) sound(odds []float64) error {
	for i := range w.nodes {
		if j := w.next[i]; j != none && !(odds[i] >= 0 && odds[i] <= 1) {
			return &UnfitError{
				IDs: []string{w.sighting(i).ID, w.sighting(j).ID},
				Why: fmt.Sprintf("cannot be weighed against each other (odds %g): look at their times, places and errors", odds[i]),
			}
		}
		if !w.before[i].sound() || !w.after[i].sound() {
			return &UnfitError{
				IDs: []string{w.sighting(i).ID},
				Why: "cannot be followed with those before and after it: look at its time, place and error",
			}
		}
	}
	return nil
}

func (s *state) sound() bool { return s.lon.sound() && s.lat.sound() }

func (a *axis) sound() bool {
	far := math.Abs(a.x) + math.Abs(a.v)
	return far < math.MaxFloat64 && a.xx > 0 && a.vv > 0 && a.xx+a.vv < math.MaxFloat64 && a.xx*a.vv > a.xv*a.xv
}
