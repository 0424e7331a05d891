package report

import (
	"fmt"

	"limbwatch/catalog"
)

// unsettled lists what is odd about the period's pictures and nobody has settled; nil
// when nothing is.
func (c composer) unsettled() *Section {
	t := &Table{Columns: []Column{{Head: "picture", Weight: 1}, {Head: "middle of the exposure, UTC", Weight: 2}, {Head: "what is odd", Weight: 7}}}
	for _, look := range c.Looks {
		for _, w := range c.Warnings {
			if w.Frame == look.Frame && w.Open() {
				t.Rows = append(t.Rows, Row{Cells: []string{w.Frame.String(), look.UTC.UTC().Format("2006-01-02 15:04"), w.Words}})
			}
		}
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return &Section{Title: "Not settled", Blocks: []Block{
		paragraph(fmt.Sprintf("What was odd about %d of the pictures, or contradicts another, and has not been looked into: positions read off them may be wrong by more than their errors say.", picturesOf(c.Warnings))),
		{Table: t},
	}}
}

func picturesOf(warnings []catalog.Warning) int {
	frames := map[catalog.FrameID]bool{}
	for _, w := range warnings {
		frames[w.Frame] = true
	}
	return len(frames)
}
