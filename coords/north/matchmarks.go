package north

import (
	"fmt"
	"math"

	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// Foretold is a feature that should be in the picture: where, with the error of the
// prediction, and how high above the photosphere. Sort tells spots from filaments
// (any word); marks and features of different sorts are not compared, an empty one
// goes with all.
type Foretold struct {
	Place    coords.Measured
	HeightMm float64
	Sort     string
}

// UnknownMark is something marked in the picture of which nobody knows what it is.
type UnknownMark struct {
	Pixel   coords.Pixel
	SigmaPx float64
	Sort    string
}

// MarksMatch is a north found from marks without names.
//
//	North       where celestial north points, with its error
//	Odds        probability that this roll and parity is right
//	ParityOdds  probability that the parity is right
//	Pairs       which mark is which feature, at that north
type MarksMatch struct {
	North            coords.North
	Odds, ParityOdds float64
	Pairs            []MarkPair
}

// MarkPair is a mark with the feature that it is, by indices, and their distance in
// standard errors.
type MarkPair struct {
	Mark, Feature int
	Sigmas        float64
}

// MarksIndecisiveError says why a match of marks is refused. Match holds what was
// found, for showing; its North must not be used.
type MarksIndecisiveError struct {
	Reason string
	Match  MarksMatch
}

func (e *MarksIndecisiveError) Error() string { return "north from marks refused: " + e.Reason }

const (
	markRolls  = 3600 // steps of 0.1°
	strayMarks = 0.2  // part of the marks that is nothing foretold (common practice, no source)
)

// FromMarks finds north and parity from marks on the disc whose names are not known
// and features whose places are foretold: at every roll, in both parities, each
// mark is one of the features, or something else. The probability of every north
// follows by Bayes' rule; the answer is the mean over the best peak.
//
// Marks of different features must not be confounded with several marks of one: give
// one mark for each thing. The error is a *MarksIndecisiveError when the marks do
// not decide.
func FromMarks(now Unoriented, marks []UnknownMark, features []Foretold, opts MatchOptions) (MarksMatch, error) {
	if !(now.Limb.RadiusPx > 0) || now.UTC.IsZero() {
		return MarksMatch{}, fmt.Errorf("north from marks: the picture has no disc or no time")
	}
	for i, m := range marks {
		if !(m.SigmaPx > 0) {
			return MarksMatch{}, fmt.Errorf("north from marks: error of mark %d is %g px, need more than 0", i+1, m.SigmaPx)
		}
	}
	places := project(now, features)
	dots := dotsOf(now, marks)
	if len(places) < 2 || len(dots) < 2 {
		return MarksMatch{}, &MarksIndecisiveError{Reason: fmt.Sprintf("%d marks on the disc and %d foretold features in view: at least 2 of each are needed", len(dots), len(places))}
	}
	p := posteriorOf(dots, places, opts.Parity)
	m := p.best()
	m.Pairs = pair(dots, places, m.North)
	switch {
	case len(m.Pairs) < 2:
		return m, &MarksIndecisiveError{"fewer than two marks agree with features", m}
	case m.ParityOdds < leastOdds:
		return m, &MarksIndecisiveError{fmt.Sprintf("the marks do not tell whether the picture is mirrored: odds %.2f", m.ParityOdds), m}
	case m.Odds < leastOdds:
		return m, &MarksIndecisiveError{fmt.Sprintf("the odds of the best roll are %.2f, %.2f are wanted", m.Odds, leastOdds), m}
	case m.North.Sigma > 3*coords.Degree:
		return m, &MarksIndecisiveError{fmt.Sprintf("the roll's error is %.1f°", m.North.Sigma.Degrees()), m}
	}
	return m, nil
}

// foretoldPlace is a feature in the plane of the disc, celestial north up and east
// left, in radii: x right, y down.
type foretoldPlace struct {
	index      int
	sort       string
	x, y       float64
	xx, xy, yy float64
}

// dot is a mark by its direction and distance from the centre.
type dot struct {
	index     int
	sort      string
	direction coords.Angle // counter-clockwise from up
	r, sigma  float64
}

// project sees the features in a picture with north up.
func project(now Unoriented, features []Foretold) []foretoldPlace {
	view := now.viewOf(coords.North{})
	view.Limb = coords.Limb{RadiusPx: 1}
	var out []foretoldPlace
	for i, f := range features {
		px, visible := view.Project(f.Place.Heliographic, f.HeightMm)
		if !visible || math.Hypot(px.X, px.Y) > 1 {
			continue
		}
		lon := radiiAlong(view, f.Place.Heliographic, coords.Heliographic{L: 1})
		lat := radiiAlong(view, f.Place.Heliographic, coords.Heliographic{B: 1})
		c := f.Place.Cov
		out = append(out, foretoldPlace{index: i, sort: f.Sort, x: px.X, y: px.Y,
			xx: c.LL*lon[0]*lon[0] + 2*c.BL*lon[0]*lat[0] + c.BB*lat[0]*lat[0],
			xy: c.LL*lon[0]*lon[1] + c.BL*(lon[0]*lat[1]+lon[1]*lat[0]) + c.BB*lat[0]*lat[1],
			yy: c.LL*lon[1]*lon[1] + 2*c.BL*lon[1]*lat[1] + c.BB*lat[1]*lat[1],
		})
	}
	return out
}

// radiiAlong is by how many radii a place moves in the picture for a radian along.
func radiiAlong(view disc.View, at, along coords.Heliographic) [2]float64 {
	move := moveWith(view, at, along)
	return [2]float64{move[0] / cellsPerRadius, move[1] / cellsPerRadius}
}

// dotsOf are the marks on the disc.
func dotsOf(now Unoriented, marks []UnknownMark) []dot {
	var out []dot
	for i, m := range marks {
		u, v := now.Limb.Unit(m.Pixel)
		r := math.Hypot(u, v)
		if !(r <= 1) {
			continue
		}
		sigma := math.Hypot(m.SigmaPx, now.Limb.Cov.SigmaCentrePx()) / now.Limb.RadiusPx
		out = append(out, dot{index: i, sort: m.Sort, direction: coords.Atan2(-u, -v), r: r, sigma: max(sigma, 0.002)})
	}
	return out
}

// under is where the dot lies in the plane of the features, under a north.
func (d dot) under(n coords.North) (x, y float64) {
	pa := d.direction - n.Angle
	if n.Mirrored {
		pa = -pa
	}
	sin, cos := pa.Sincos()
	return -d.r * sin, -d.r * cos
}

// density is how likely the dot lies at x, y if it is the feature, per square radius,
// and their distance in standard errors.
func (p *foretoldPlace) density(x, y, sigma float64) (likely, sigmas float64) {
	xx, yy, xy := p.xx+sigma*sigma, p.yy+sigma*sigma, p.xy
	det := xx*yy - xy*xy
	dx, dy := x-p.x, y-p.y
	chi2 := (yy*dx*dx - 2*xy*dx*dy + xx*dy*dy) / det
	if chi2 > 40 {
		return 0, math.Sqrt(chi2)
	}
	return math.Exp(-chi2/2) / (2 * math.Pi * math.Sqrt(det)), math.Sqrt(chi2)
}

func sortsMeet(a, b string) bool { return a == "" || b == "" || a == b }

// posterior is the probability of every roll, by parity.
type posterior [2][]float64

func posteriorOf(dots []dot, places []foretoldPlace, known Parity) posterior {
	var p posterior
	most := math.Inf(-1)
	for parity := range p {
		if !known.allows(parity == 1) {
			continue
		}
		p[parity] = make([]float64, markRolls)
		for k := range p[parity] {
			n := coords.North{Angle: coords.Angle(k) * 2 * math.Pi / markRolls, Mirrored: parity == 1}
			sum := 0.0
			for _, d := range dots {
				x, y := d.under(n)
				likely, of := 0.0, 0.0
				for i := range places {
					if !sortsMeet(d.sort, places[i].sort) {
						continue
					}
					l, _ := places[i].density(x, y, d.sigma)
					likely += l
					of++
				}
				sum += math.Log(strayMarks/math.Pi + (1-strayMarks)*likely/max(of, 1))
			}
			p[parity][k] = sum
			most = max(most, sum)
		}
	}
	total := 0.0
	for parity := range p {
		for k := range p[parity] {
			p[parity][k] = math.Exp(p[parity][k] - most)
			total += p[parity][k]
		}
	}
	for parity := range p {
		for k := range p[parity] {
			p[parity][k] /= total
		}
	}
	return p
}

// best is the mean over the peak with the most in it, and its odds.
func (p posterior) best() MarksMatch {
	var m MarksMatch
	top := -1.0
	for parity := range p {
		for k, v := range p[parity] {
			if v > top {
				top = v
				m.North = coords.North{Angle: coords.Angle(k) * 2 * math.Pi / markRolls, Mirrored: parity == 1}
			}
		}
	}
	parity := 0
	if m.North.Mirrored {
		parity = 1
	}
	var mean, square float64
	for k, v := range p[parity] {
		m.ParityOdds += v
		d := (coords.Angle(k)*2*math.Pi/markRolls - m.North.Angle).Wrap180()
		if d.Abs() > RivalFrom {
			continue
		}
		m.Odds += v
		mean += v * float64(d)
		square += v * float64(d*d)
	}
	mean, square = mean/m.Odds, square/m.Odds
	m.North.Angle = (m.North.Angle + coords.Angle(mean)).Wrap360()
	const floor = 0.05 * coords.Degree
	m.North.Sigma = coords.Angle(math.Hypot(math.Sqrt(max(0, square-mean*mean)), float64(floor)))
	return m
}

// pair tells which mark is which feature: the nearest in standard errors first, each
// at most once.
func pair(dots []dot, places []foretoldPlace, n coords.North) []MarkPair {
	const farthest = 3.5
	takenDot, takenPlace := make([]bool, len(dots)), make([]bool, len(places))
	var out []MarkPair
	for {
		best, bi, bj := farthest, -1, -1
		for i, d := range dots {
			x, y := d.under(n)
			for j := range places {
				if takenDot[i] || takenPlace[j] || !sortsMeet(d.sort, places[j].sort) {
					continue
				}
				if _, s := places[j].density(x, y, d.sigma); s < best {
					best, bi, bj = s, i, j
				}
			}
		}
		if bi < 0 {
			return out
		}
		takenDot[bi], takenPlace[bj] = true, true
		out = append(out, MarkPair{Mark: dots[bi].index, Feature: places[bj].index, Sigmas: best})
	}
}
