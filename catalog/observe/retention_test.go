package observe

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// Backups made at random over years: what stays is bounded, holds the newest, and reaches
// back; one that is not whole never displaces another.
func TestBackupsThatStay(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 28))
	start := time.Date(2024, 1, 1, 6, 0, 0, 0, time.UTC)
	var kept []Backup
	damaged := map[string]bool{}
	now := start
	for i := range 900 {
		now = now.Add(time.Duration(1+r.IntN(40)) * time.Hour)
		b := Backup{Path: fmt.Sprint(i), At: now}
		kept = append([]Backup{b}, kept...)
		gone := superfluous(kept, 0, func(b Backup) bool { return !damaged[b.Path] })
		for _, g := range gone {
			assert.NotEqual(t, b.Path, g.Path, "the newest stays")
		}
		kept = slices.DeleteFunc(kept, func(b Backup) bool { return slices.Contains(gone, b) })
		if r.IntN(20) == 0 {
			damaged[b.Path] = true // later: it was whole when it was made
		}
		good := 0
		days := map[string]bool{}
		for _, k := range kept {
			if !damaged[k.Path] {
				good++
				days[k.At.Format("2006-01-02")] = true
			}
		}
		assert.LessOrEqual(t, good, keptDays+keptWeeks+keptMonths)
		if i > 40 {
			assert.GreaterOrEqual(t, len(days), 5)
		}
	}
	oldest := kept[len(kept)-1]
	assert.Greater(t, now.Sub(oldest.At), 300*24*time.Hour, "they reach back through the months")
	assert.Len(t, superfluous(kept, 3, func(Backup) bool { return true }), len(kept)-3)
	none := superfluous(kept, 1, func(b Backup) bool { return false })
	assert.Empty(t, none, "where none is whole none goes")
}
