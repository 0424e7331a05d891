package observe

import (
	"fmt"
	"strings"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// basisApart stands between the frames of a basis.
const basisApart = "; "

// northBasis tells anew the norths of the frames on which a warning about norths rests:
// that of a warning that still stands is what it was.
func northBasis(v *store.View, basis string) (string, error) {
	var now []string
	for _, part := range strings.Split(basis, basisApart) {
		name, _, _ := strings.Cut(part, " ")
		id, err := catalog.ParseFrameID(name)
		if err != nil {
			return "", nil
		}
		b, err := v.Bearings(id)
		if missing(err) {
			return "", nil
		}
		if err != nil {
			return "", err
		}
		now = append(now, liesSo(b))
	}
	return strings.Join(now, basisApart), nil
}

// liesSo tells a frame with its north and its disc, to the figures by which two that
// contradict each other could agree.
func liesSo(b catalog.Bearings) string {
	if b.North == nil || b.Disc == nil {
		return b.Frame.ID.String()
	}
	n := b.North
	return fmt.Sprintf("%s %s %.2f %.2f %v, disc %.0f, %.0f, %.0f", b.Frame.ID, n.Toward, n.Angle.Wrap180().Degrees(), n.Sigma.Degrees(), n.Mirrored,
		b.Disc.Limb.Centre.X, b.Disc.Limb.Centre.Y, b.Disc.Limb.RadiusPx)
}
