package report

import "limbwatch/catalog"

// Frequency is the mean daily frequency of something: the sum of its daily counts,
// divided by the days on which it was looked for, not by the days of the month.
//
//	Days          on which it was looked for and could be counted
//	Sum           of the counts on them
//	Mean          Sum / Days; 0 when there was no day
//	North, South  means over the days on which the hemispheres could be told apart
type Frequency struct {
	Name         string
	Days         int
	Sum          float64
	Mean         float64
	North, South *float64
}

// Frequencies gives the mean daily frequencies of a run of days, by what was
// counted; the relative number stands among them.
func Frequencies(days []Day, k float64) []Frequency {
	out := make([]Frequency, 0, len(catalog.Tallies)+1)
	for _, t := range catalog.Tallies {
		out = append(out, frequencyOf(days, t))
		if t == catalog.TallySpots {
			out = append(out, relativeNumber(days, k))
		}
	}
	return out
}

func frequencyOf(days []Day, t catalog.Tally) Frequency {
	f := Frequency{Name: tallyTitles[t]}
	var north, south, split float64
	for _, d := range days {
		n, ok := d.Counts[t]
		if !ok || n.Total == nil {
			continue
		}
		f.Days++
		f.Sum += float64(*n.Total)
		if n.North != nil && n.South != nil {
			north, south, split = north+float64(*n.North), south+float64(*n.South), split+1
		}
	}
	if split > 0 {
		north, south = north/split, south/split
		f.North, f.South = &north, &south
	}
	return f.mean()
}

func relativeNumber(days []Day, k float64) Frequency {
	f := Frequency{Name: "Relative number R"}
	for _, d := range days {
		if r, ok := d.RelativeNumber(k); ok {
			f.Days++
			f.Sum += r
		}
	}
	return f.mean()
}

func (f Frequency) mean() Frequency {
	if f.Days > 0 {
		f.Mean = f.Sum / float64(f.Days)
	}
	return f
}

var tallyTitles = map[catalog.Tally]string{
	catalog.TallyGroups: "Sunspot groups g", catalog.TallySpots: "Sunspots f", catalog.TallyPlages: "Plages",
	catalog.TallyFilaments: "Filaments", catalog.TallyProminences: "Prominences, places H", catalog.TallyElements: "Prominences, elements E",
}
