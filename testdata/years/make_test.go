package years

import "testing"

// BenchmarkFill fills the catalogues that LIMBWATCH_YEARS keeps.
func BenchmarkFill(b *testing.B) {
	for _, marks := range []int{10_000, 100_000, 1_000_000} {
		_, made := Kept(b, marks)
		b.Logf("%+v", made)
	}
}
