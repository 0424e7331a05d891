//go:build race

package limb

// raced says that the race detector is on: it slows painting tenfold.
const raced = true
