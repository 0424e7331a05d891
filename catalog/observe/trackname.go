package observe

import (
	"fmt"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// kindWords are the words of a passage's name.
var kindWords = map[catalog.Kind]string{
	catalog.Sunspot: "spot", catalog.Plage: "plage", catalog.Filament: "fil", catalog.Prominence: "prom", catalog.Other: "thing",
}

// namer gives passages names that can be said and stay: the year in which it was
// first seen, what it mostly is, and a number that counts through that year, as in
// 2026-fil-14.
type namer struct {
	view *store.View
	last map[string]int
}

func newNamer(v *store.View) namer { return namer{v, map[string]int{}} }

func (n namer) next(kind catalog.Kind, year int) (string, error) {
	stem := fmt.Sprintf("%04d-%s", year, kindWords[kind])
	if _, known := n.last[stem]; !known {
		last, err := n.view.LastNumber(stem)
		if err != nil {
			return "", err
		}
		n.last[stem] = last
	}
	n.last[stem]++
	return fmt.Sprintf("%s-%d", stem, n.last[stem]), nil
}
