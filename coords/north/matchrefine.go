package north

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"limbwatch/coords"
)

// The disc is cut into windows of 11°, 17° and 23° (at its middle): a small region, one
// with its plage, a complex with its filaments. Which belong together nobody knows.
var cuts = []cut{{40, 40}, {60, 45}, {80, 60}}

// refine sharpens the best roll and finds its error. Each cut of the disc gives a roll
// (solver); the answer is their mean. Its error is the largest of theirs, with their
// scatter added: neighbouring windows may move together, and then the cuts disagree by
// more than each believes.
func (m *Match) refine(c *carriedDisc, expected, now *pattern, maxSigma coords.Angle) error {
	view := c.newView
	view.North = m.North
	lon, lat := ownMotion(m.Days)
	turns, sigmas, errs := make([]coords.Angle, len(cuts)), make([]coords.Angle, len(cuts)), make([]error, len(cuts))
	var wait sync.WaitGroup
	for i, k := range cuts {
		wait.Go(func() {
			s := solver{windows: k.look(view, expected, now), least: leastWindows, lon: lon, lat: lat, prior: priors(m.Days, c.oldView.Limb, view.Limb)}
			turns[i], sigmas[i], errs[i] = s.solve()
		})
	}
	wait.Wait()
	var mean coords.Angle
	for i, turn := range turns {
		if errs[i] != nil {
			return &IndecisiveError{errs[i].Error(), *m}
		}
		mean += turn / coords.Angle(len(cuts))
	}
	worst := slices.Max(sigmas)
	variance := float64(worst * worst)
	for _, turn := range turns {
		variance += float64((turn-mean)*(turn-mean)) / float64(len(turns)-1)
	}
	m.North.Angle = (m.North.Angle + mean).Wrap360()
	// A picture is never better aligned than its sampling and its limb allow.
	const floor = 0.05 * coords.Degree
	m.North.Sigma = coords.Angle(math.Hypot(math.Sqrt(variance), float64(floor)))
	if m.North.Sigma > maxSigma {
		return &IndecisiveError{fmt.Sprintf("the roll is uncertain by %.2f°, %.2f° at most is wanted", m.North.Sigma.Degrees(), maxSigma.Degrees()), *m}
	}
	return nil
}
