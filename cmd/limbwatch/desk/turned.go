package desk

import (
	"fmt"
	"math"
	"net/http"
	"runtime"

	"golang.org/x/sync/errgroup"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/picture"
	"limbwatch/coords/rotation"
)

// turnedReachDays bounds how far apart two days may be that are shown together: what
// is seen on one has then left the other.
const turnedReachDays = 13

// getTurned answers GET /frames/{frame}/turned/{other}/pixels.
func (s *Server) getTurned(w http.ResponseWriter, r *http.Request) error {
	e, shown, err := s.turnedPicture(r)
	if err != nil {
		return err
	}
	answer(w, http.StatusOK, e.describe(&shown.Limb))
	return nil
}

// getTurnedLevel answers GET /frames/{frame}/turned/{other}/pixels/{level}.
func (s *Server) getTurnedLevel(w http.ResponseWriter, r *http.Request) error {
	e, _, err := s.turnedPicture(r)
	if err != nil {
		return err
	}
	return e.send(w, r)
}

// turnedPicture is another day's picture on the pixels of the shown frame, turned
// to its time.
func (s *Server) turnedPicture(r *http.Request) (*exposed, viewed, error) {
	shown, err := s.viewed(r)
	if err != nil {
		return nil, shown, err
	}
	id, err := catalog.ParseFrameID(r.PathValue("other"))
	if err != nil {
		return nil, shown, bad(err.Error(), "frames are listed at "+apiPrefix+"days")
	}
	other, err := s.seenFrame(r, id)
	if err != nil {
		return nil, shown, err
	}
	for _, v := range []viewed{shown, other} {
		if !v.northKnown {
			return nil, shown, &userError{status: http.StatusConflict, what: fmt.Sprintf("%s has no disc or no north yet", v.frame.ID),
				hint: "two days can be laid on one another once both are known on both"}
		}
	}
	days := rotation.Days(other.middle, shown.middle)
	if math.Abs(days) > turnedReachDays {
		return nil, shown, &userError{status: http.StatusConflict, what: fmt.Sprintf("the two days lie %.0f days apart", math.Abs(days)),
			hint: fmt.Sprintf("after %d days another half of the Sun is in view", turnedReachDays)}
	}
	source, err := s.picture(r.Context(), other.frame)
	if err != nil {
		return nil, shown, err
	}
	// The key holds all that the turned picture follows from.
	key := fmt.Sprintf("%s on %+v %+v %d %d from %+v", other.frame.SHA256, shown.View, shown.middle, shown.frame.WidthPx, shown.frame.HeightPx, other.View)
	e, err := s.turned.picture(r.Context(), key, func() (*picture.Picture, error) {
		return turn(source, other, shown, days)
	})
	return e, shown, err
}

// mesh is the spacing of the pixels that are projected exactly; between them the
// way from picture to picture is straight to a small part of a pixel.
const mesh = 16

// turn lays a picture on the pixels of the shown frame. On the disc each pixel is
// carried back by rotation; beyond the limb the sky is laid on unturned.
func turn(from *exposed, other, shown viewed, days float64) (*picture.Picture, error) {
	w, h := shown.frame.WidthPx, shown.frame.HeightPx
	law := rotation.PriorOf("").Law
	sky := between(shown.View, other.View)
	dark := float32(from.depth.Zero)
	// exact gives where a pixel of the shown frame lies on the other picture.
	exact := func(p coords.Pixel) (coords.Pixel, bool) {
		if u, v := shown.Limb.Unit(p); u*u+v*v > 1 {
			return coords.Pixel{X: sky[0]*p.X + sky[1]*p.Y + sky[4], Y: sky[2]*p.X + sky[3]*p.Y + sky[5]}, true
		}
		place := shown.Place(p, 0, noHeight).Photosphere
		if !place.Known {
			return coords.Pixel{X: sky[0]*p.X + sky[1]*p.Y + sky[4], Y: sky[2]*p.X + sky[3]*p.Y + sky[5]}, true
		}
		return other.Project(law.Carry(place.Heliographic, -days), 0)
	}
	grey := make([]float32, w*h)
	onDisc := func(x, y int) bool {
		u, v := shown.Limb.Unit(coords.Pixel{X: float64(x), Y: float64(y)})
		return u*u+v*v < 0.97
	}
	var turning errgroup.Group
	turning.SetLimit(runtime.GOMAXPROCS(0))
	for top := 0; top < h; top += mesh {
		turning.Go(func() error {
			for left := 0; left < w; left += mesh {
				turnBlock(grey, from.pic, w, h, left, top, dark, exact, onDisc)
			}
			return nil
		})
	}
	if err := turning.Wait(); err != nil {
		return nil, err
	}
	return picture.New(w, h, grey, from.pic.Depth)
}

// turnBlock fills one block of mesh by mesh pixels: by its corners where all of it
// lies well on the disc and in view on both days, pixel by pixel at the limb.
func turnBlock(grey []float32, pic *picture.Picture, w, h, left, top int, dark float32,
	exact func(coords.Pixel) (coords.Pixel, bool), onDisc func(x, y int) bool) {
	var corner [4]coords.Pixel
	smooth := true
	for i := range corner {
		x, y := left+i%2*mesh, top+i/2*mesh
		seen := false
		corner[i], seen = exact(coords.Pixel{X: float64(x), Y: float64(y)})
		smooth = smooth && seen && onDisc(x, y)
	}
	for y := top; y < min(h, top+mesh); y++ {
		for x := left; x < min(w, left+mesh); x++ {
			var p coords.Pixel
			seen := true
			if smooth {
				fx, fy := float64(x-left)/mesh, float64(y-top)/mesh
				p.X = (corner[0].X*(1-fx)+corner[1].X*fx)*(1-fy) + (corner[2].X*(1-fx)+corner[3].X*fx)*fy
				p.Y = (corner[0].Y*(1-fx)+corner[1].Y*fx)*(1-fy) + (corner[2].Y*(1-fx)+corner[3].Y*fx)*fy
			} else {
				p, seen = exact(coords.Pixel{X: float64(x), Y: float64(y)})
			}
			grey[y*w+x] = dark
			if seen {
				if v, ok := blended(pic, p); ok {
					grey[y*w+x] = v
				}
			}
		}
	}
}

// blended is the grey level between four pixels.
func blended(pic *picture.Picture, p coords.Pixel) (float32, bool) {
	x, y := int(math.Floor(p.X)), int(math.Floor(p.Y))
	if x < 0 || y < 0 || x >= pic.Width-1 || y >= pic.Height-1 {
		return 0, false
	}
	fx, fy := float32(p.X-float64(x)), float32(p.Y-float64(y))
	upper := pic.Grey[y*pic.Width+x:]
	lower := pic.Grey[(y+1)*pic.Width+x:]
	return (upper[0]*(1-fx)+upper[1]*fx)*(1-fy) + (lower[0]*(1-fx)+lower[1]*fx)*fy, true
}
