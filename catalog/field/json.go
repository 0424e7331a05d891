package field

import (
	"bytes"
	"encoding/json"
)

// Object writes all fields of a thing as the members of a JSON object, in their order, for
// scripts at the terminal and the page: a figure that is not known is null, a word that
// was not said is empty.
func Object[T any](fields []Field[T], of *T) json.RawMessage {
	var text bytes.Buffer
	encoder := json.NewEncoder(&text)
	encoder.SetEscapeHTML(false)
	for i, f := range fields {
		text.WriteByte("{,"[min(i, 1)])
		text.WriteString(`"` + f.Name + `":`)
		value := f.Get(of)
		switch {
		case value == nil && f.Kind == Text:
			value = ""
		case value == nil && f.Kind == Names:
			value = []string{}
		case value != nil && f.Kind == Yes:
			value = value == int64(1)
		case value != nil && f.Kind == Figures:
			value = json.RawMessage(value.(string))
		}
		_ = encoder.Encode(value) // numbers, words and lists of them, which always can
	}
	text.WriteByte('}')
	var compact bytes.Buffer
	_ = json.Compact(&compact, text.Bytes())
	return compact.Bytes()
}

// Megametres is a height or length on the Sun, which JSON has in kilometres.
type Megametres float64

// MegametresOf is for a field of JSON that there may be none of.
func MegametresOf(mm float64) *Megametres { return (*Megametres)(&mm) }

// MarshalJSON writes kilometres.
func (mm Megametres) MarshalJSON() ([]byte, error) { return json.Marshal(kmOfMm(float64(mm))) }

// UnmarshalJSON reads what MarshalJSON wrote.
func (mm *Megametres) UnmarshalJSON(text []byte) error {
	var km float64
	err := json.Unmarshal(text, &km)
	*mm = Megametres(km / kmInMm)
	return err
}

// Km is how many kilometres that is.
func (mm Megametres) Km() float64 { return kmOfMm(float64(mm)) }
