package limb

import "slices"

// median of values; 0 for none. The slice is left as it was.
func median(values []float64) float64 { return quantile(values, 0.5) }

// quantile by linear interpolation between the ordered values; 0 for none.
func quantile(values []float64, q float64) float64 {
	if len(values) == 0 {
		return 0
	}
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	at := q * float64(len(sorted)-1)
	i := int(at)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
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
