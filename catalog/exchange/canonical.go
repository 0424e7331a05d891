package exchange

import (
	"encoding/json"
	"maps"
	"slices"
	"strconv"
	"unicode/utf16"
)

// appendCanonical writes what encoding/json reads from a JSON text as RFC 8785 (JSON
// Canonicalization Scheme) has it: no spacing, members in the order of their names'
// UTF-16, each number the shortest text of its double, each string with the fewest
// escapes. Two texts that say the same give the same bytes.
func appendCanonical(out []byte, value any) []byte {
	switch v := value.(type) {
	case map[string]any:
		names := slices.SortedFunc(maps.Keys(v), func(a, b string) int {
			return slices.Compare(utf16.Encode([]rune(a)), utf16.Encode([]rune(b)))
		})
		out = append(out, '{')
		for i, name := range names {
			if i > 0 {
				out = append(out, ',')
			}
			out = append(appendCanonicalText(out, name), ':')
			out = appendCanonical(out, v[name])
		}
		return append(out, '}')
	case []any:
		out = append(out, '[')
		for i, item := range v {
			if i > 0 {
				out = append(out, ',')
			}
			out = appendCanonical(out, item)
		}
		return append(out, ']')
	case string:
		return appendCanonicalText(out, v)
	case float64:
		// encoding/json writes numbers as ECMAScript does, but for the sign of 0.
		number, _ := json.Marshal(v + 0)
		return append(out, number...)
	case bool:
		return strconv.AppendBool(out, v)
	}
	return append(out, "null"...)
}

var shortEscapes = map[byte]byte{'"': '"', '\\': '\\', '\b': 'b', '\f': 'f', '\n': 'n', '\r': 'r', '\t': 't'}

func appendCanonicalText(out []byte, text string) []byte {
	const hex = "0123456789abcdef"
	out = append(out, '"')
	for i := range len(text) {
		c := text[i]
		if letter, ok := shortEscapes[c]; ok {
			out = append(out, '\\', letter)
		} else if c < 0x20 {
			out = append(out, '\\', 'u', '0', '0', hex[c>>4], hex[c&15])
		} else {
			out = append(out, c)
		}
	}
	return append(out, '"')
}
