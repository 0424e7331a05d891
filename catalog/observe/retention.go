package observe

import (
	"fmt"
	"slices"
	"time"
)

// How many backups stay: the newest of each of the last days, weeks and months that have
// one (common practice, no source).
const (
	keptDays   = 7
	keptWeeks  = 5
	keptMonths = 12
)

// periods are those that a backup may stand for.
var periods = []struct {
	kept int
	name func(time.Time) string
}{
	{keptDays, func(t time.Time) string { return t.Format("2006-01-02") }},
	{keptWeeks, func(t time.Time) string {
		year, week := t.ISOWeek()
		return fmt.Sprintf("%d-W%02d", year, week)
	}},
	{keptMonths, func(t time.Time) string { return t.Format("2006-01") }},
}

// superfluous chooses which of some backups, newest first, may go: those that stand for no
// period, or beyond the newest keep where that is not 0. One that is not whole stands for
// nothing, and does not go by itself; whole is asked only of those for whose sake another
// would go.
func superfluous(list []Backup, keep int, whole func(Backup) bool) []Backup {
	damaged := map[string]bool{}
	for {
		stays := map[string]bool{}
		standsFor := map[string]Backup{} // by period
		var good []Backup
		for _, b := range list {
			if !damaged[b.Path] {
				good = append(good, b)
			}
		}
		for i, b := range good {
			if keep > 0 {
				stays[b.Path] = i < keep
			}
		}
		if keep == 0 {
			for _, period := range periods {
				seen := 0
				for _, b := range good {
					name := period.name(b.At)
					if _, taken := standsFor[name]; taken {
						continue
					}
					standsFor[name] = b
					if seen++; seen <= period.kept {
						stays[b.Path] = true
					}
				}
			}
		}
		var gone []Backup
		found := false
		for _, b := range good {
			if stays[b.Path] {
				continue
			}
			gone = append(gone, b)
			for _, instead := range inItsPlace(b, good, stays, standsFor) {
				if !damaged[instead.Path] && !whole(instead) {
					damaged[instead.Path], found = true, true
				}
			}
		}
		if !found {
			return gone
		}
	}
}

// inItsPlace are the backups for whose sake one goes: those that stand for its periods, and
// else the newest.
func inItsPlace(b Backup, good []Backup, stays map[string]bool, standsFor map[string]Backup) (instead []Backup) {
	for _, period := range periods {
		if other, ok := standsFor[period.name(b.At)]; ok && stays[other.Path] && !slices.Contains(instead, other) {
			instead = append(instead, other)
		}
	}
	if len(instead) == 0 {
		instead = good[:1]
	}
	return instead
}
