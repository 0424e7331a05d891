package desk

import (
	"fmt"
	"math"
	"net/http"
	"strconv"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// getGeometry answers GET /frames/{frame}/geometry. Another disc (x, y, r) or north
// (north_deg, mirrored) can be tried without keeping it; Moves then says how far
// the marks of the frame would go.
func (s *Server) getGeometry(w http.ResponseWriter, r *http.Request) error {
	kept, err := s.seen(r)
	if err != nil {
		return err
	}
	kind, err := parseGrid(r.FormValue("grid"))
	if err != nil {
		return bad(err.Error(), "leave grid out for none")
	}
	tried, changed, err := try(kept, r)
	if err != nil {
		return err
	}
	if !tried.discKnown {
		return &userError{status: http.StatusConflict, what: "frame " + kept.frame.ID.String() + " has no disc yet", hint: "find it, or click points of the limb"}
	}
	g := draw(tried.View, tried.northKnown, kind)
	if changed && kept.northKnown {
		marks, err := s.keeper.Store.Read(r.Context()).MarksOn(kept.frame.ID)
		if err != nil {
			return err
		}
		g.Moves = moves(marks, kept.View, tried.View)
	}
	answer(w, http.StatusOK, g)
	return nil
}

// try reads another disc and north out of a request.
func try(v viewed, r *http.Request) (tried viewed, changed bool, err error) {
	number := func(name string, into *float64, low, high float64) bool {
		text := r.FormValue(name)
		if text == "" || err != nil {
			return false
		}
		value, wrong := strconv.ParseFloat(text, 64)
		if wrong != nil || !(value >= low && value <= high) {
			err = bad(fmt.Sprintf("%s %q", name, text), fmt.Sprintf("want a number from %g to %g", low, high))
			return false
		}
		*into = value
		return true
	}
	limb := v.Limb
	if number("x", &limb.Centre.X, -2e5, 2e5) && number("y", &limb.Centre.Y, -2e5, 2e5) && number("r", &limb.RadiusPx, 3, 1e5) {
		limb.Flattening, limb.ShortAxis = 0, 0
		v.Limb, v.discKnown, changed = limb, true, true
	}
	var deg float64
	if number("north_deg", &deg, -720, 720) {
		v.North = coords.North{Angle: coords.Angle(deg) * coords.Degree, Mirrored: r.FormValue("mirrored") == "true", Sigma: v.North.Sigma}
		v.northKnown, changed = v.discKnown, true
	}
	return v, changed, err
}

// moves says in words how far marks move from one view to another.
func moves(marks []catalog.Mark, from, to disc.View) string {
	count, farthest := 0, coords.Angle(0)
	for _, m := range marks {
		for _, p := range m.Geometry.Pixels {
			a, b := from.Place(p, 0, noHeight).Photosphere, to.Place(p, 0, noHeight).Photosphere
			if a.Known && b.Known {
				farthest = max(farthest, a.Distance(b.Heliographic))
			}
		}
		if len(m.Geometry.Pixels) > 0 {
			count++
		}
	}
	if count == 0 {
		return ""
	}
	return fmt.Sprintf("%d %s, by up to %.1f°", count, plural(count, "mark moves", "marks move"), math.Abs(farthest.Degrees()))
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
