package north

// Parity is what is known beforehand of a picture's mirroring.
type Parity int

// The parities. Either leaves both open.
const (
	Either Parity = iota
	Upright
	MirrorImage
)

// allows says whether a picture of that parity is in question.
func (p Parity) allows(mirrored bool) bool {
	return p == Either || (p == MirrorImage) == mirrored
}
