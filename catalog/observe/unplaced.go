package observe

import (
	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// Unplaced is a mark that an import keeps although it has no position, and why: its
// figures are the truth, and it gets one once what is missing is there.
type Unplaced struct {
	Mark   catalog.MarkID
	Reason string
}

// unplacedOf gives those of some marks that have no position.
func unplacedOf(v *store.View, among func(catalog.MarkID) bool) (some []Unplaced, err error) {
	all, err := v.Unplaced()
	for _, p := range all {
		if among(p.Mark) {
			some = append(some, Unplaced{Mark: p.Mark, Reason: p.Reason})
		}
	}
	return some, err
}
