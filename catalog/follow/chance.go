package follow

import (
	"math"

	"limbwatch/coords/ephemeris"
)

// reachDays is how long a passage may go unseen: a crossing of the whole disc.
const reachDays = 15.0

// behindLimbDeg is the central meridian distance at which a passage is over, or
// has not begun: what is seen of a tall cloud beyond the limb is seen up to
// here (30° is a height of 100 Mm).
const behindLimbDeg = 120

// tooFaint is a chance of still being there that no place, however near, makes up
// for.
const tooFaint = 1e-5

// outlook is what one end of a run can expect of the frames beyond it.
//
//	seen   chance that the feature is seen next in the 1st, 2nd … frame beyond
//	never  chance that it is not seen in any of them
type outlook struct {
	seen  []float64
	never float64
}

// look walks from a run's end through the frames after it (step 1) or before it
// (step −1). Between frames the feature may die (be born, going back); in a frame
// it may be out of view, or missed. One that was missed is more easily missed
// again: faint features flicker. room is memory to use again.
func (r *record) look(s *state, n *node, step int, room []float64) outlook {
	t, era, p := s.like.best(), &r.eras[n.era], s.prior
	hazard := p.hazard(s.lasted)
	drift := p.drift(s.lat.x) + s.lon.v
	const synodicDegPerDay = ephemeris.CarringtonDegPerDay - 0.9856

	fresh, flicker := 1.0, 0.0 // alive and not seen since: out of view, or missed
	if room == nil {
		room = make([]float64, 0, 16)
	}
	out := outlook{never: 1, seen: room[:0]}
	day := n.day
	for f := n.frame + step; f >= 0 && f < len(r.frames); f += step {
		frame := &r.frames[f]
		elapsed := frame.day - n.day
		if math.Abs(elapsed) > reachDays || fresh+flicker < tooFaint {
			break
		}
		rough := n.cmd + elapsed*synodicDegPerDay
		cmd := rough + wrap180(s.lon.x+elapsed*drift-frame.l0-rough)
		if math.Abs(cmd) > behindLimbDeg {
			break
		}
		survive := alive(hazard, frame.day-day)
		day = frame.day
		view := p.inView(cmd) * frame.share[t]
		fresh, flicker = fresh*survive, flicker*survive
		now := view * (fresh*(1-era.Misses) + flicker*(1-era.MissesAgain))
		fresh, flicker = fresh*(1-view), flicker*(1-view*(1-era.MissesAgain))+fresh*view*era.Misses
		out.seen = append(out.seen, now)
		out.never -= now
	}
	out.never = max(out.never, 1e-9)
	return out
}
