package limb

import "slices"

// median of values; 0 for none. The slice is left as it was.
func median(values []float64) float64 { return medianOf(slices.Clone(values)) }

// medianOf is the median of values that it may reorder: of an even number the
// upper of the middle two (Hoare 1961, Comm. ACM 4, 321).
func medianOf(v []float64) float64 {
	if len(v) == 0 {
		return 0
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

// trimmedMean is the mean without the given share of values at either end. It
// reorders the slice.
func trimmedMean(values []float64, share float64) float64 {
	if len(values) == 0 {
		return 0
	}
	slices.Sort(values)
	cut := int(share * float64(len(values)))
	values = values[cut : len(values)-cut]
	sum := 0.0
	for _, v := range values {
		sum += v
	}
	return sum / float64(len(values))
}
