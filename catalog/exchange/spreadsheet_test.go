package exchange

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// What spreadsheets are known to run or to change (common practice, no source).
func TestTextThatASpreadsheetWouldChange(t *testing.T) {
	for _, text := range []string{"=1+1", "+49 30", "-x", "@SUM(A1)", "'quoted", "1-2", "3/4", "1E5", "007", "Mar 1", "MAR-1", "sep2", "\tx", "14mar", "1.5", "5 p", "8am", "12345678901234567"} {
		safe := Harmless(text)
		assert.Equal(t, "'"+text, safe)
		assert.Equal(t, text, Typed(safe))
	}
	for _, text := range []string{"", "F3", "AR 4001", "hedgerow", "Marble 1", "marching", "N12", "ångström", "a=b", "13664", "0", "4321A", "2026F"} {
		assert.Equal(t, text, Harmless(text))
		assert.Equal(t, text, Typed(text))
	}
	assert.Equal(t, "'tis", Typed("'tis"), "an apostrophe that nobody put there stays")
}
