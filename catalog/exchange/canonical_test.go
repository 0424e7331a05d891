package exchange

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func canonical(t *testing.T, text string) string {
	t.Helper()
	var value any
	require.NoError(t, json.Unmarshal([]byte(text), &value), text)
	return string(appendCanonical(nil, value))
}

// The examples of RFC 8785, sections 3.2.2 and 3.2.3.
func TestCanonicalFormIsThatOfTheStandard(t *testing.T) {
	assert.Equal(t, `{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`,
		canonical(t, `{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}`))
	sorted := canonical(t, `{"\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew Letter Dalet With Dagesh", "1": "One",
  "\ud83d\ude00": "Emoji: Grinning Face", "\u0080": "Control", "\u00f6": "Latin Small Letter O With Diaeresis"}`)
	at := -1
	for _, name := range []string{"Carriage Return", "One", "Control", "Latin Small", "Euro Sign", "Emoji", "Hebrew"} {
		next := strings.Index(sorted, name)
		assert.Greater(t, next, at, name)
		at = next
	}
}

// Doubles by their bits, with their text, of RFC 8785, appendix B.
func TestCanonicalNumbersAreThoseOfTheStandard(t *testing.T) {
	for bits, want := range map[uint64]string{
		0x0000000000000000: "0", 0x8000000000000000: "0", 0x0000000000000001: "5e-324", 0x8000000000000001: "-5e-324",
		0x7fefffffffffffff: "1.7976931348623157e+308", 0x4340000000000000: "9007199254740992", 0x4430000000000000: "295147905179352830000",
		0x44b52d02c7e14af5: "9.999999999999997e+22", 0x44b52d02c7e14af6: "1e+23", 0x444b1ae4d6e2ef4e: "999999999999999700000",
		0x444b1ae4d6e2ef50: "1e+21", 0x3eb0c6f7a0b5ed8c: "9.999999999999997e-7", 0x3eb0c6f7a0b5ed8d: "0.000001", 0x41b3de4355555557: "333333333.33333343",
		0xbecbf647612f3696: "-0.0000033333333333333333", 0x43143ff3c1cb0959: "1424953923781206.2",
	} {
		assert.Equal(t, want, string(appendCanonical(nil, math.Float64frombits(bits))), "%x", bits)
	}
}
