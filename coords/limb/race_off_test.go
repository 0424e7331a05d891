//go:build !race

package limb

// raced says that the race detector is on.
const raced = false
