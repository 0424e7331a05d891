package catalog

import (
	"fmt"
	"strconv"
	"strings"
)

// CountID names a count, as in C4.
type CountID int64

func (id CountID) String() string { return shortID('C', int64(id)) }

// MarshalText writes the id as people say it.
func (id CountID) MarshalText() ([]byte, error) { return []byte(id.String()), nil }

// Count is how many of something an observer counted at a sitting, on paper, without
// marking them. A sitting has at most one of each Tally.
//
//	North, South  of the solar equator, when Split
//	Total         all of them; more than North + South where some were not told apart
//	Split         whether the hemispheres were told apart: without it they are blank
type Count struct {
	Record
	ID                  CountID
	Sitting             SittingID
	Tally               Tally
	North, South, Total int
	Split               bool
}

// maxCount bounds a day's count: the most spots ever counted in a day are some hundreds.
const maxCount = 10_000

// Validate says what is wrong with the count, or nil.
func (c Count) Validate() error {
	switch {
	case c.Sitting <= 0:
		return fmt.Errorf("count without a sitting")
	case c.Tally == 0 || int(c.Tally) >= len(tallyNames):
		return fmt.Errorf("count that does not say of what")
	case c.North < 0 || c.South < 0 || c.Total > maxCount:
		return fmt.Errorf("%d %s, north %d, south %d: want 0 to %d", c.Total, c.Tally, c.North, c.South, maxCount)
	case !c.Split && (c.North != 0 || c.South != 0):
		return fmt.Errorf("%s of hemispheres that were not told apart", c.Tally)
	case c.Total < c.North+c.South:
		return fmt.Errorf("%d %s in all, but north %d and south %d", c.Total, c.Tally, c.North, c.South)
	}
	return nil
}

// ParseCount reads a count as it is written on paper: N2,S1 with the hemispheres
// told apart (one that is not named has none), 3 without, or both when some were
// told apart: N2,S1,4 is seven in all.
func ParseCount(tally Tally, text string) (Count, error) {
	c := Count{Tally: tally}
	refused := fmt.Errorf("%s %q: want N2,S1, or 3 where the hemispheres were not told apart", tally, text)
	var seen [3]bool
	for _, part := range strings.Split(text, ",") {
		part = strings.TrimSpace(part)
		which, digits := 2, part
		switch {
		case strings.HasPrefix(part, "N") || strings.HasPrefix(part, "n"):
			which, digits = 0, part[1:]
		case strings.HasPrefix(part, "S") || strings.HasPrefix(part, "s"):
			which, digits = 1, part[1:]
		}
		n, err := strconv.ParseUint(digits, 10, 31)
		if err != nil || seen[which] {
			return c, refused
		}
		seen[which] = true
		c.Total += int(n)
		switch which {
		case 0:
			c.North = int(n)
		case 1:
			c.South = int(n)
		}
	}
	c.Split = seen[0] || seen[1]
	return c, nil
}

// String writes the count as ParseCount reads it.
func (c Count) String() string {
	if !c.Split {
		return strconv.Itoa(c.Total)
	}
	text := fmt.Sprintf("N%d,S%d", c.North, c.South)
	if rest := c.Total - c.North - c.South; rest > 0 {
		text += "," + strconv.Itoa(rest)
	}
	return text
}

// Tally is what a count counts. Its zero is refused.
type Tally uint8

// What can be counted: groups of spots and single spots; plages; filaments; places
// with prominences, and their separate elements.
const (
	TallyGroups Tally = iota + 1
	TallySpots
	TallyPlages
	TallyFilaments
	TallyProminences
	TallyElements
)

var tallyNames = []string{"", "groups", "spots", "plages", "filaments", "prominences", "elements"}

// Tallies lists them in the order in which they are shown.
var Tallies = []Tally{TallyGroups, TallySpots, TallyPlages, TallyFilaments, TallyProminences, TallyElements}

// String is the tally's name as it stands in SQL and JSON.
func (t Tally) String() string { return nameOf(tallyNames, uint8(t), "Tally") }

// ParseTally reads a tally's name.
func ParseTally(text string) (Tally, error) {
	return namedNonZero[Tally](tallyNames, text, "count", strings.Join(tallyNames[1:], ", "))
}

// MarshalText writes the tally's name.
func (t Tally) MarshalText() ([]byte, error) { return []byte(t.String()), nil }

// Kind is the kind of mark that the tally counts.
func (t Tally) Kind() Kind {
	switch t {
	case TallyGroups, TallySpots:
		return Sunspot
	case TallyPlages:
		return Plage
	case TallyFilaments:
		return Filament
	}
	return Prominence
}
