// Package sample reads levels between the points of a grid, and the middle and other
// quantiles of samples.
package sample

import (
	"cmp"
	"math"
	"slices"
)

// Float is a level.
type Float interface{ ~float32 | ~float64 }

// Bilinear is the level within a cell of a grid, fx of the way from its left to its right
// side and fy from its top to its bottom, of whose corners the levels are given: upper
// left and right, lower left and right.
func Bilinear[T Float](a, b, c, d, fx, fy T) T {
	return (a*(1-fx)+b*fx)*(1-fy) + (c*(1-fx)+d*fx)*fy
}

// Grid is the level of a grid of rows of the given width at x (right) and y (down) from
// the first; false where the point does not lie between four levels of it.
func Grid[T Float](levels []T, width int, x, y float64) (T, bool) {
	if !(x >= 0 && y >= 0) {
		return 0, false
	}
	x0, y0 := math.Floor(x), math.Floor(y)
	if !(x0+1 < float64(width) && (y0+1)*float64(width) < float64(len(levels))) {
		return 0, false
	}
	i := int(y0)*width + int(x0)
	fx, fy := T(x-x0), T(y-y0)
	return Bilinear(levels[i], levels[i+1], levels[i+width], levels[i+width+1], fx, fy), true
}

// Median is the middle of some values, of an even number the upper of the middle two;
// zero for none. The slice is left as it was.
func Median[T cmp.Ordered](values []T) T { return MedianOf(slices.Clone(values)) }

// MedianOf is Median where the values may be reordered (Hoare 1961, Comm. ACM 4, 321).
func MedianOf[T cmp.Ordered](v []T) T {
	if len(v) == 0 {
		var none T
		return none
	}
	k := len(v) / 2
	lo, hi := 0, len(v)-1
	for lo < hi {
		pivot := v[(lo+hi)/2]
		i, j := lo, hi
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return v[k]
		}
	}
	return v[k]
}

// Quantile is the value that a share of the values, 0 to 1, lies below: of n in order the
// one that stands nearest to share · (n − 1). It is zero for none.
func Quantile[T cmp.Ordered](values []T, share float64) T {
	if len(values) == 0 {
		var none T
		return none
	}
	sorted := slices.Sorted(slices.Values(values))
	return sorted[int(share*float64(len(sorted)-1)+0.5)]
}
