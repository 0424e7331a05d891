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
	v, err := s.seen(r)
	if err != nil {
		return err
	}
	out := ribbon{From: 0.25, To: 0.75, Dots: []ribbonDot{}, Threads: []thread{}}
	for deg := 0; deg < 360; deg += 30 {
		at := onRibbon(v.Face, coords.Heliographic{L: coords.Angle(deg) * coords.Degree})
		out.Ticks = append(out.Ticks, ribbonTick{X: at.X, Label: fmt.Sprintf("%d°", deg), Seam: deg == 0, Strong: deg%90 == 0})
	}
	entries, err := s.keeper.Store.Read(r.Context()).Entries(store.Query{
		From: v.middle.AddDate(0, 0, -ribbonReachDays), To: v.middle.AddDate(0, 0, 1),
	})
	if err != nil {
		return err
	}
	threads := map[catalog.PassageID]*thread{}
	var order []catalog.PassageID
	for _, e := range entries {
		place, known := e.Position.Reading()
		if !known {
			continue
		}
		here := e.Frame.Sitting == v.frame.Sitting && (e.Frame.Sitting != 0 || e.Frame.ID == v.frame.ID)
		now := rotation.PriorOf(e.Mark.Kind.String()).Law.Carry(place.Heliographic, rotation.Days(e.Position.UTC, v.middle))
		at := onRibbon(v.Face, now)
		if here {
			out.Dots = append(out.Dots, ribbonDot{spot: at, ID: e.Mark.ID.String(), Kind: e.Mark.Kind, Name: nameOf(e.Mark)})
		}
		if e.Join == nil {
			continue
		}
		t := threads[e.Join.Passage]
		if t == nil {
			t = &thread{ID: e.Join.Passage.String(), Name: e.PassageName, Kind: e.Mark.Kind}
			threads[e.Join.Passage] = t
			order = append(order, e.Join.Passage)
		}
		t.add(at)
		if here {
			t.Mark = e.Mark.ID.String()
		}
	}
	for _, id := range order {
		out.Threads = append(out.Threads, *threads[id])
	}
	answer(w, http.StatusOK, out)
	return nil
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
