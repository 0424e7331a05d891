package catalog

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestIDsAreReadAsTheyAreSaid(t *testing.T) {
	for text, want := range map[string]MarkID{"M12": 12, "m1": 1, "M9007199254740993": 9007199254740993} {
		got, err := ParseMarkID(text)
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
	for _, text := range []string{"", "M", "12", "12b", "F12", "M0", "M-1", "M+1", "M1.5", "M 1", "MM1", "M99999999999999999999"} {
		got, err := ParseMarkID(text)
		assert.Error(t, err, "id %q", text)
		assert.Zero(t, got)
	}
	_, err := ParseMarkID("12b")
	assert.EqualError(t, err, `mark "12b": want M and a number, as in M12`) // wording of the house style
}

func TestUUIDsAreOfVersion7AndDiffer(t *testing.T) {
	a, b := NewUUID(), NewUUID()
	assert.NotEqual(t, a, b)
	assert.EqualValues(t, 7, a.Version()) // RFC 9562, section 5.7
}
