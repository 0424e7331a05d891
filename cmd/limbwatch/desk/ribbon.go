package desk

import (
	"fmt"
	"net/http"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/rotation"
)

// spot is a place on the ribbon, as parts of its width and height: x 0 at 180° east
// of the centre of the disc, 1 at 180° west; y 0 at the north pole.
type spot struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

func onRibbon(face coords.Face, h coords.Heliographic) spot {
	return spot{X: round(0.5+face.CMD(h).Degrees()/360, 1e5), Y: round(0.5-h.B.Degrees()/180, 1e5)}
}

type ribbonTick struct {
	X      float64 `json:"x"`
	Label  string  `json:"label"`
	Seam   bool    `json:"seam,omitempty"`
	Strong bool    `json:"strong,omitempty"`
}

type ribbonDot struct {
	spot
	ID   string       `json:"id"`
	Kind catalog.Kind `json:"kind"`
	Name string       `json:"name"`
}

// thread is a passage on the ribbon: where it was on each day, carried to now by
// rotation.
type thread struct {
	ID    string       `json:"id"`
	Name  string       `json:"name"`
	Kind  catalog.Kind `json:"kind"`
	Mark  string       `json:"mark,omitempty"` // its mark on the shown day
	Seen  bool         `json:"seen"`           // in the half that is in view now
	Parts [][]xy       `json:"parts"`
}

type ribbon struct {
	From    float64      `json:"from"` // the half in view
	To      float64      `json:"to"`
	Ticks   []ribbonTick `json:"ticks"`
	Dots    []ribbonDot  `json:"dots"`
	Threads []thread     `json:"threads"`
}

// ribbonReach is how long ago a passage may have been seen to lie on the ribbon
// still: one rotation.
const ribbonReachDays = 28

// getRibbon answers GET /frames/{frame}/ribbon.
func (s *Server) getRibbon(w http.ResponseWriter, r *http.Request) error {
	v := s.keeper.Store.Read(r.Context())
	version, err := v.Newest()
	if err != nil {
		return err
	}
	if s.unchanged(w, r, version) {
		return nil
	}
	shown, err := s.seen(r)
	if err != nil {
		return err
	}
	out, err := ribbonOf(v, shown)
	if err != nil {
		return err
	}
	answer(w, http.StatusOK, out)
	return nil
}

func ribbonOf(v *store.View, shown viewed) (ribbon, error) {
	out := ribbon{From: 0.25, To: 0.75, Dots: []ribbonDot{}, Threads: []thread{}}
	for deg := 0; deg < 360; deg += 30 {
		at := onRibbon(shown.Face, coords.Heliographic{L: coords.Angle(deg) * coords.Degree})
		out.Ticks = append(out.Ticks, ribbonTick{X: at.X, Label: fmt.Sprintf("%d°", deg), Seam: deg == 0, Strong: deg%90 == 0})
	}
	traces, err := v.Traces(shown.middle.AddDate(0, 0, -ribbonReachDays), shown.middle.AddDate(0, 0, 1))
	if err != nil {
		return out, err
	}
	threads := map[catalog.PassageID]*thread{}
	var order []catalog.PassageID
	for _, m := range traces {
		here := m.Sitting == shown.frame.Sitting && (m.Sitting != 0 || m.Frame == shown.frame.ID)
		at := onRibbon(shown.Face, rotation.PriorOf(m.Kind.String()).Law.Carry(m.Place, rotation.Days(m.UTC, shown.middle)))
		if here {
			name := m.Name
			if name == "" {
				name = m.Mark.String()
			}
			out.Dots = append(out.Dots, ribbonDot{spot: at, ID: m.Mark.String(), Kind: m.Kind, Name: name})
		}
		if m.Passage == 0 {
			continue
		}
		t := threads[m.Passage]
		if t == nil {
			t = &thread{ID: m.Passage.String(), Name: m.PassageName, Kind: m.Kind}
			threads[m.Passage] = t
			order = append(order, m.Passage)
		}
		t.add(at)
		if here {
			t.Mark = m.Mark.String()
		}
	}
	for _, id := range order {
		out.Threads = append(out.Threads, *threads[id])
	}
	return out, nil
}

// add puts a place at the end of a thread; where it runs over the ribbon's end a
// new part begins at the other.
func (t *thread) add(at spot) {
	t.Seen = at.X >= 0.25 && at.X <= 0.75
	p := xy{at.X, at.Y}
	last := len(t.Parts) - 1
	if last < 0 || abs(t.Parts[last][len(t.Parts[last])-1][0]-p[0]) > 0.5 {
		t.Parts = append(t.Parts, []xy{p})
		return
	}
	t.Parts[last] = append(t.Parts[last], p)
}

func abs(v float64) float64 { return max(v, -v) }

// nameOf is what a mark is called: its label, or its id.
func nameOf(m catalog.Mark) string {
	if m.Label != "" {
		return m.Label
	}
	return m.ID.String()
}
