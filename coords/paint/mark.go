package paint

import (
	"math"
	"slices"

	"limbwatch/coords"
)

// Kind of a painted feature, in the words of a log.
type Kind string

// The kinds.
const (
	KindSunspot    Kind = "sunspot"
	KindPlage      Kind = "plage"
	KindFilament   Kind = "filament"
	KindProminence Kind = "prominence"
)

// Mark is where a feature is, on the Sun and in the picture.
//
//	At        representative place: a spot's or patch's centre; the arc-length midpoint of
//	          a filament's spine; the middle of a prominence's base
//	HeightMm  of the representative point above the photosphere: 0 for a spot, half
//	          way up the sheet for a filament, the base for a prominence
//	Pixel     where At is seen at HeightMm, also where it is hidden
//	Mu        cosine of the angle between the vertical and the line of sight there
//	Visible   it is not hidden behind the Sun (it may lie outside the picture)
//	Count     spots in a group
//	Spine     a filament's spine as painted, at HeightMm: the points seen on the disc
//	Outline   of plage at half its brightness, without swirls: the points seen
//	Beyond    what stands out beyond the limb; nil when nothing does
type Mark struct {
	Label    string
	Kind     Kind
	At       coords.Heliographic
	HeightMm float64
	Pixel    coords.Pixel
	Mu       float64
	Visible  bool
	Count    int
	Spine    []coords.Pixel
	Outline  []coords.Pixel
	Beyond   *Beyond
}

// Beyond is the part of a filament or prominence that is seen beyond the limb.
// One part in fifty of its gas is left out at either end, as nobody sees it.
//
//	From, To  position angles of its ends, To counter-clockwise on the sky of From
//	Top       pixel of its top; TopHeightMm the height at which that appears to stand
//	          above the photosphere's edge (less than the true height when the foot is
//	          not on the limb); TopAngle its position angle
//	FromPixel, ToPixel  the limb at its ends
type Beyond struct {
	From, To, TopAngle coords.Angle
	Top                coords.Pixel
	TopHeightMm        float64
	FromPixel, ToPixel coords.Pixel
}

func (s Scene) marks(v view, gases []gasSeen) []Mark {
	var out []Mark
	point := func(label string, kind Kind, at coords.Heliographic, heightMm float64) Mark {
		m := Mark{Label: label, Kind: kind, At: at, HeightMm: heightMm}
		m.Pixel, m.Visible = v.project(at.Vector(), 1+heightMm/toMm)
		m.Mu = v.mu(at.Vector(), 1+heightMm/toMm)
		return m
	}
	for _, g := range groups(s.Sun.Spots) {
		m := point(g.label, KindSunspot, coords.HeliographicOf(g.sum), 0)
		m.Count = g.count
		out = append(out, m)
	}
	for _, p := range s.Sun.Plages {
		m := point(p.Label, KindPlage, p.At, p.HeightMm)
		m.Outline = p.outline(v)
		out = append(out, m)
	}
	for i, f := range s.Sun.Filaments {
		curve := f.curve()
		mid := curve.points[curve.find(curve.totalMm/2)].up
		height := (f.BaseMm + f.HeightMm) / 2
		m := point(f.Label, KindFilament, coords.HeliographicOf(mid), height)
		for k := 0; k < len(curve.points); k += 4 {
			q := v.sky(curve.points[k].up)
			if px, r, front := v.place(q, 1+height/toMm); front && r < 1 {
				m.Spine = append(m.Spine, px)
			}
		}
		m.Beyond = s.beyond(v, gases[i])
		out = append(out, m)
	}
	for i, p := range s.Sun.Prominences {
		m := point(p.Label, KindProminence, p.At, 0)
		m.Beyond = s.beyond(v, gases[len(s.Sun.Filaments)+i])
		out = append(out, m)
	}
	return out
}

// group is what the spots of one label amount to.
type group struct {
	label string
	count int
	sum   [3]float64 // of the spots' places, weighted by area
}

// groups gathers spots by label, in the order in which labels come up. A spot
// without a label is a group of its own.
func groups(spots []Spot) []group {
	var out []group
	for _, sp := range spots {
		i := slices.IndexFunc(out, func(g group) bool { return g.label == sp.Label && sp.Label != "" })
		if i < 0 {
			i = len(out)
			out = append(out, group{label: sp.Label})
		}
		out[i].count++
		area := coords.Square(math.Max(sp.PenumbraMm, sp.UmbraMm))
		for k, x := range sp.At.Vector() {
			out[i].sum[k] += area * x
		}
	}
	return out
}

// outline is the plage's ellipse in the picture.
func (p Plage) outline(v view) []coords.Pixel {
	const points = 32
	var out []coords.Pixel
	frame := localAt(p.At)
	sin, cos := degreesOf(p.TiltDeg).Sincos()
	for i := range points {
		s, c := math.Sincos(2 * math.Pi * float64(i) / points)
		x, y := c*p.LengthMm/2, s*p.WidthMm/2
		at := frame.at((x*cos-y*sin)/toMm, (x*sin+y*cos)/toMm)
		if px, visible := v.project(at, 1+p.HeightMm/toMm); visible {
			out = append(out, px)
		}
	}
	return out
}

// beyond measures the gas that is seen beyond the limb.
func (s Scene) beyond(v view, g gasSeen) *Beyond {
	type part struct{ angle, r, weight float64 }
	var parts []part
	all, sumX, sumY, out := 0.0, 0.0, 0.0, 0.0
	for i, b := range g.blobs {
		seen := g.seen[i]
		weight := b.depth * b.sigmaMm * b.sigmaMm
		all += weight
		if seen.r <= 1 {
			continue
		}
		u, w := v.limb.Unit(seen.px)
		pa := s.Camera.North.PositionAngle(u, w).Radians()
		parts = append(parts, part{pa, seen.r, weight})
		out += weight
		sumX += weight * math.Cos(pa)
		sumY += weight * math.Sin(pa)
	}
	if out < 0.02*all || out == 0 {
		return nil
	}
	middle := coords.Atan2(sumY, sumX)
	for i := range parts {
		parts[i].angle = (coords.Angle(parts[i].angle) - middle).Wrap180().Radians()
	}
	quantile := func(key func(part) float64, q float64) float64 {
		slices.SortFunc(parts, func(a, b part) int {
			if key(a) < key(b) {
				return -1
			}
			return 1
		})
		sum := 0.0
		for _, p := range parts {
			if sum += p.weight; sum >= q*out {
				return key(p)
			}
		}
		return key(parts[len(parts)-1])
	}
	angle := func(p part) float64 { return p.angle }
	b := &Beyond{}
	from, to := coords.Angle(quantile(angle, 0.02)), coords.Angle(quantile(angle, 0.98))
	rTop := quantile(func(p part) float64 { return p.r }, 0.98)
	best := parts[0]
	for _, p := range parts {
		if math.Abs(p.r-rTop) < math.Abs(best.r-rTop) {
			best = p
		}
	}
	b.From, b.To = (middle + from).Wrap360(), (middle + to).Wrap360()
	b.TopAngle = (middle + coords.Angle(best.angle)).Wrap360()
	at := func(pa coords.Angle, r float64) coords.Pixel {
		right, down := s.Camera.North.Direction(pa)
		return v.limb.At(right*r, down*r)
	}
	b.Top, b.FromPixel, b.ToPixel = at(b.TopAngle, rTop), at(b.From, 1), at(b.To, 1)
	// Height of the line of sight above the Sun's centre where it passes closest.
	b.TopHeightMm = (v.distance*math.Sin(rTop*v.limbAngle) - 1) * toMm
	return b
}
