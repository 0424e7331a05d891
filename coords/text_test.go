package coords

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Solar places as the trade writes them (N08W14, L 307; NOAA's lists of regions).
func TestAnglesAsTheTradeWritesThem(t *testing.T) {
	for deg, want := range map[float64]string{359.97: "0.0", -0.1: "359.9", -0.01: "0.0", 307: "307.0", 720.26: "0.3"} {
		assert.Equal(t, want, (Angle(deg) * Degree).TurnText(1), "%g°", deg)
	}
	for deg, want := range map[float64]string{8: "N08", -8.4: "S08", -0.4: "N00", 0.4: "N00", -75.6: "S76"} {
		assert.Equal(t, want, (Angle(deg)*Degree).LetteredText(0, "N", "S"), "%g°", deg)
	}
	assert.Equal(t, "E103.25", (-103.25*Degree).LetteredText(2, "W", "E"))
	assert.Equal(t, "W00.0", (-0.04*Degree).LetteredText(1, "W", "E"))
}
