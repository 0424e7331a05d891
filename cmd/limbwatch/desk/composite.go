package desk

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/picture"
)

// compositeJSON is which picture of an hour shows the disc and which the edge.
//
//	FromPicture  brings pixels of the disc's picture to those of the edge's
//	Ask          nothing tells them apart: Edge is the one to ask about
//	Revision     of the edge's frame, for giving it its role
//	Words        what was chosen, and by what
type compositeJSON struct {
	Disc        string `json:"disc"`
	Edge        string `json:"edge"`
	FromPicture affine `json:"from_picture"`
	Ask         bool   `json:"ask,omitempty"`
	Revision    int64  `json:"revision"`
	Words       string `json:"words"`
}

// compositeWithin is how far apart the two exposures of one look may lie.
const compositeWithin = time.Hour

// getComposite answers GET /frames/{frame}/composite.
func (s *Server) getComposite(w http.ResponseWriter, r *http.Request) error {
	shown, err := s.viewed(r)
	if err != nil {
		return err
	}
	partners, err := s.partnersOf(r, shown)
	if err != nil {
		return err
	}
	disc, edge, words, sure := byRole(shown, partners)
	if !sure {
		for _, p := range partners {
			if disc, edge, words, sure, err = s.byLight(r, shown, p); err != nil {
				return err
			}
			if sure {
				break
			}
		}
	}
	if !sure {
		disc, edge, words = shown, partners[0], "nothing in the two pictures tells which was exposed for the edge"
	}
	answer(w, http.StatusOK, compositeJSON{Disc: disc.frame.ID.String(), Edge: edge.frame.ID.String(), FromPicture: onto(disc, edge),
		Ask: !sure, Revision: edge.frame.Revision, Words: words})
	return nil
}

// partnersOf are the other pictures of the hour that have a disc, the nearest first.
func (s *Server) partnersOf(r *http.Request, shown viewed) ([]viewed, error) {
	alone := &userError{status: http.StatusConflict, what: "no other picture of this hour has a disc", hint: "add the other exposure, and find its disc"}
	if shown.frame.Sitting == 0 {
		return nil, alone
	}
	frames, err := s.keeper.Store.Read(r.Context()).FramesOf(shown.frame.Sitting)
	if err != nil {
		return nil, err
	}
	var out []viewed
	for _, f := range frames {
		if f.ID == shown.frame.ID || !f.HasFile() {
			continue
		}
		v, err := s.seenFrame(r, f.ID)
		if err != nil {
			return nil, err
		}
		if v.discKnown && v.middle.Sub(shown.middle).Abs() <= compositeWithin {
			out = append(out, v)
		}
	}
	if len(out) == 0 {
		return nil, alone
	}
	slices.SortStableFunc(out, func(a, b viewed) int {
		return int(a.middle.Sub(shown.middle).Abs()) - int(b.middle.Sub(shown.middle).Abs())
	})
	return out, nil
}

// byRole takes the observer's word of what the pictures were exposed for.
func byRole(shown viewed, partners []viewed) (disc, edge viewed, words string, sure bool) {
	with := func(roles ...catalog.Role) (viewed, bool) {
		for _, role := range roles {
			for _, p := range partners {
				if p.frame.Role == role {
					return p, true
				}
			}
		}
		return viewed{}, false
	}
	if shown.frame.Role == catalog.RoleLimb {
		disc, sure = with(catalog.RoleSurface, catalog.RoleBoth)
		return disc, shown, laid(disc, shown, "by their roles"), sure
	}
	edge, sure = with(catalog.RoleLimb)
	if !sure && shown.frame.Role == catalog.RoleSurface {
		edge, sure = with(catalog.RoleBoth)
	}
	return shown, edge, laid(shown, edge, "by their roles"), sure
}

func laid(disc, edge viewed, by string) string {
	return fmt.Sprintf("disc of %s, edge of %s, %s", disc.frame.ID, edge.frame.ID, by)
}

// exposureLight is how a picture is exposed, its levels as parts of the full scale.
//
//	Clipped  part of the disc that is at the end of the scale
//	Disc     the middle level of the disc
//	Beyond   light just beyond the limb, over the sky farther out
type exposureLight struct{ Clipped, Disc, Beyond float64 }

// What tells the edge exposure of an hour by its light (common practice, no source):
// its disc is burnt out where the other's is not, or its disc, or what stands beyond
// the limb, is several times as bright. A disc that was blackened afterwards speaks
// against what stands beyond it, and so tells nothing.
const (
	burntOut     = 0.2
	notBurnt     = 0.02
	muchStronger = 2.5
	faintest     = 0.002 // of the scale: what is fainter than this is noise
)

// byLight judges two pictures by their light, and else by their times of exposure.
func (s *Server) byLight(r *http.Request, a, b viewed) (disc, edge viewed, words string, sure bool, err error) {
	var light [2]exposureLight
	known := true
	for i, v := range []viewed{a, b} {
		e, err := s.picture(r.Context(), v.frame)
		if err != nil {
			return a, b, "", false, err
		}
		var ok bool
		light[i], ok = exposureOf(e.pic, v.Limb)
		known = known && ok
	}
	if known {
		switch edgeOf(light[0], light[1]) {
		case -1:
			return b, a, laid(b, a, "by their light"), true, nil
		case 1:
			return a, b, laid(a, b, "by their light"), true, nil
		}
	}
	if x, y := a.frame.ExposureS, b.frame.ExposureS; x > 0 && y > 0 {
		if x > 1.5*y {
			return b, a, laid(b, a, "by their times of exposure"), true, nil
		}
		if y > 1.5*x {
			return a, b, laid(a, b, "by their times of exposure"), true, nil
		}
	}
	return a, b, "", false, nil
}

// edgeOf tells which of two is exposed for the edge: −1 the first, 1 the second, 0 when
// their light does not tell, or tells both.
func edgeOf(a, b exposureLight) int {
	first, second := a.outshines(b), b.outshines(a)
	switch {
	case first && !second:
		return -1
	case second && !first:
		return 1
	}
	return 0
}

// outshines is whether anything says that a is exposed longer than b.
func (a exposureLight) outshines(b exposureLight) bool {
	return a.Clipped > burntOut && b.Clipped < notBurnt ||
		a.Disc > max(faintest, muchStronger*b.Disc) || a.Beyond > max(faintest, muchStronger*b.Beyond)
}

// exposureOf measures a picture's light; false when its full scale is not known.
func exposureOf(pic *picture.Picture, limb coords.Limb) (exposureLight, bool) {
	full := float64(pic.SaturationLevel)
	if full <= 0 {
		if pic.Depth.Float || pic.Depth.Bits <= 0 || pic.Depth.Bits > 32 {
			return exposureLight{}, false
		}
		full = math.Exp2(float64(pic.Depth.Bits)) - 1
	}
	var disc, ring, sky []float64
	step := max(1, int(math.Sqrt(float64(pic.Width*pic.Height)/200_000)))
	for y := 0; y < pic.Height; y += step {
		for x := 0; x < pic.Width; x += step {
			u, v := limb.Unit(coords.Pixel{X: float64(x), Y: float64(y)})
			level := float64(pic.Grey[y*pic.Width+x]) / full
			switch r := math.Hypot(u, v); {
			case r < 0.95:
				disc = append(disc, level)
			case r > 1.02 && r < 1.08:
				ring = append(ring, level)
			case r > 1.15 && r < 1.6:
				sky = append(sky, level)
			}
		}
	}
	if len(disc) < 100 || len(ring) < 20 || len(sky) < 20 {
		return exposureLight{}, false
	}
	clipped := 0
	for _, level := range disc {
		if level >= 0.98 {
			clipped++
		}
	}
	part := func(levels []float64, p float64) float64 {
		slices.Sort(levels)
		return levels[int(p*float64(len(levels)-1))]
	}
	return exposureLight{
		Clipped: float64(clipped) / float64(len(disc)),
		Disc:    part(disc, 0.5),
		Beyond:  part(ring, 0.5) - part(sky, 0.5),
	}, true
}
