package figure_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"limbwatch/coords/figure"
)

// Common practice, no source: an error has one figure, two where the first is a 1.
func TestDecimals(t *testing.T) {
	for _, c := range []struct {
		sigma float64
		most  int
		want  int
	}{
		{0.25, 4, 1}, {0.19, 4, 2}, {0.2, 4, 1}, {0.013, 4, 3}, {2.5, 4, 0}, {1.5, 4, 1}, {12, 4, 0}, {150, 4, 0},
		{0.00001, 4, 4}, {0.013, 2, 2}, {0.25, 0, 0},
		{0, 4, 1}, {-1, 4, 1}, {math.NaN(), 4, 1}, {math.Inf(1), 4, 1}, {0, 0, 0},
	} {
		assert.Equal(t, c.want, figure.Decimals(c.sigma, c.most), "%g, at most %d", c.sigma, c.most)
	}
}

func TestWhatReadsZeroHasNoSign(t *testing.T) {
	for _, c := range []struct {
		value    float64
		decimals int
		signed   string
		plain    string
	}{
		{-0.04, 1, "0.0", "0.0"}, {0.04, 1, "0.0", "0.0"}, {-0.4, 0, "0", "0"}, {0, 2, "0.00", "0.00"}, {math.Copysign(0, -1), 0, "0", "0"},
		{-0.06, 1, "-0.1", "-0.1"}, {0.06, 1, "+0.1", "0.1"}, {100, 0, "+100", "100"}, {-10, 0, "-10", "-10"},
	} {
		assert.Equal(t, c.signed, figure.Signed(c.value, c.decimals), "%g", c.value)
		assert.Equal(t, c.plain, figure.Plain(c.value, c.decimals), "%g", c.value)
	}
}

func TestNoRoundingMakesCertain(t *testing.T) {
	for p, want := range map[float64]string{0: "< 1 %", 0.004: "< 1 %", 0.01: "1 %", 0.5: "50 %", 0.99: "99 %", 0.995: "> 99 %", 1: "> 99 %"} {
		assert.Equal(t, want, figure.Percent(p), "%g", p)
	}
	assert.Empty(t, figure.Percent(math.NaN()))
}
