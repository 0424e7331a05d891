// Package follow finds the same feature again on other days. Sightings go in,
// passages with the odds of every link come out; it touches no file, no
// catalogue and no clock.
//
// # The model
//
// A passage is one feature's crossing of the visible disc. Its state (longitude,
// latitude, its own rate and its own drift in latitude, with their errors) is
// filtered from the prior of its kind: the kind's rotation law, the scatter of
// single features about it, the wandering of a feature's centre and now and then
// a jump of that centre (state.go, prior.go).
//
// A set of passages has a probability, the product of
//
//   - for each first sighting: the density of such features at that latitude,
//     and the chance that nobody saw this one before (it was hidden, unborn or
//     missed),
//   - for each link: the chance that the next sighting came just then (the
//     feature lived on, was missed in the frames between, and was seen), and the
//     density of its place, shape and kind given all that went before,
//   - for each last sighting: the chance that it was never seen again.
//
// Follow looks for the passages that are most probable together. A first run
// through the frames joins each frame's marks to the live passages by optimal
// assignment. Then every interval between two frames is cut: all that came
// before it and all that came after are held fast, and the ends on both sides
// are joined anew by optimal assignment, each with what both sides know of rate
// and latitude. This is repeated until nothing changes (relink.go). So a decision
// waits for the days that follow it, and a picture added late has the same
// effect as one added in time.
//
// # What the result does not depend on
//
// The order of the sightings, their ids, labels, and the names of pinned
// passages (only who shares one counts). Sightings that the observer joined
// (Sighting.Pinned) always stay joined, and those pinned to different passages
// always stay apart.
package follow
