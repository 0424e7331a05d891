package read

import (
	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// OpenDay is a day with all that is marked in it, as one of its frames is shown.
//
//	Shown     the frame, with its disc, its north and its site
//	Frames    of the day in the order of time, with Shown
//	Entries   all marks of the day
//	Rivals    the passages that a mark may belong to beside the one it is in, where
//	          following could not tell and the observer has not said
//	Warnings  of the shown frame, settled ones too
//	Open      of all frames, those that nobody settled
type OpenDay struct {
	Shown    catalog.Bearings
	Frames   []catalog.Bearings
	Entries  []catalog.Entry
	Rivals   map[catalog.MarkID][]Rival
	Warnings []catalog.Warning
	Open     []catalog.Warning
}

// Rival is a passage that a mark may belong to.
type Rival struct {
	Join    catalog.Join
	Passage catalog.Passage
}

// DayOf reads the day of a frame.
func DayOf(v *store.View, id catalog.FrameID) (day OpenDay, err error) {
	if day.Shown, err = v.Bearings(id); err != nil {
		return day, err
	}
	day.Frames = []catalog.Bearings{day.Shown}
	query := store.Query{Frame: id, References: true}
	if sitting := day.Shown.Frame.Sitting; sitting != 0 {
		query = store.Query{Sitting: sitting, References: true}
		if day.Frames, err = v.BearingsOfSitting(sitting); err != nil {
			return day, err
		}
	}
	frames := make([]catalog.FrameID, len(day.Frames))
	for i, b := range day.Frames {
		frames[i] = b.Frame.ID
	}
	if day.Open, err = v.OpenWarningsOf(frames); err != nil {
		return day, err
	}
	if day.Warnings, err = v.WarningsOf(id); err != nil {
		return day, err
	}
	if day.Entries, err = v.Entries(query); err != nil {
		return day, err
	}
	day.Rivals, err = RivalsOf(v, day.Entries)
	return day, err
}

// RivalsOf gives what following proposed for marks and did not do.
func RivalsOf(v *store.View, entries []catalog.Entry) (map[catalog.MarkID][]Rival, error) {
	var ids []catalog.MarkID
	for _, e := range entries {
		if e.Join == nil || e.Join.By != catalog.ByObserver { // else the observer has said which
			ids = append(ids, e.Mark.ID)
		}
	}
	joins, err := v.ProposedJoins(ids)
	if err != nil || len(joins) == 0 {
		return nil, err
	}
	var named []catalog.PassageID
	for _, j := range joins {
		named = append(named, j.Passage)
	}
	passages, err := v.PassagesOf(named)
	if err != nil {
		return nil, err
	}
	rivals := map[catalog.MarkID][]Rival{}
	for _, j := range joins {
		if p, there := passages[j.Passage]; there {
			rivals[j.Mark] = append(rivals[j.Mark], Rival{j, p})
		}
	}
	return rivals, nil
}
