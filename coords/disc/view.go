// Package disc turns pixels into places on the Sun and back, with errors, once
// the limb, the north and the instant of a picture are known.
package disc

import (
	"time"

	"limbwatch/coords"
)

// View is all that is needed to read positions off one picture.
//
//	Limb       the fitted edge of the disc, with its error
//	Layer      which height above the photosphere that edge is
//	North      where celestial north points, and the parity
//	Face       P, B0, L0 and semidiameter at the instant of the picture
//	SigmaTime  standard error of that instant (L0 moves 0.55° an hour)
type View struct {
	Limb      coords.Limb
	Layer     coords.Layer
	North     coords.North
	Face      coords.Face
	SigmaTime time.Duration
}
