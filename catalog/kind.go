package catalog

import "fmt"

// Kind is what a mark marks. Its zero is no kind and is refused.
type Kind uint8

// The kinds of mark. A filament and a prominence are the same cloud seen from
// two sides: dark before the disc, bright beyond the limb.
const (
	Sunspot Kind = iota + 1
	Plage
	Filament
	Prominence
	Other
)

// Kinds lists all kinds in the order in which they are shown.
var Kinds = []Kind{Sunspot, Plage, Filament, Prominence, Other}

var kindNames = map[Kind]string{
	Sunspot: "sunspot", Plage: "plage", Filament: "filament", Prominence: "prominence", Other: "other",
}

// String is the kind's name as it stands in SQL, JSON, CSV and on the screen.
func (k Kind) String() string {
	if name, ok := kindNames[k]; ok {
		return name
	}
	return fmt.Sprintf("Kind(%d)", uint8(k))
}

// Akin tells whether marks of two kinds can be of one thing.
func (k Kind) Akin(o Kind) bool {
	cloud := func(k Kind) bool { return k == Filament || k == Prominence }
	return k == o || k == Other || o == Other || cloud(k) && cloud(o)
}

// ParseKind reads a kind's name.
func ParseKind(text string) (Kind, error) {
	for _, k := range Kinds {
		if kindNames[k] == text {
			return k, nil
		}
	}
	return 0, fmt.Errorf("kind %q: want sunspot, plage, filament, prominence or other", text)
}

// MarshalText writes the kind's name.
func (k Kind) MarshalText() ([]byte, error) {
	if _, ok := kindNames[k]; !ok {
		return nil, fmt.Errorf("kind %d has no name", uint8(k))
	}
	return []byte(k.String()), nil
}

// UnmarshalText reads the kind's name.
func (k *Kind) UnmarshalText(text []byte) error {
	parsed, err := ParseKind(string(text))
	if err != nil {
		return err
	}
	*k = parsed
	return nil
}
