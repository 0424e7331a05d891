package observe

import (
	"context"
	"fmt"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/limb"
)

// SetLimbPoints fits the disc to points that the observer clicked on the limb.
func (k Keeper) SetLimbPoints(ctx context.Context, id catalog.FrameID, points []coords.Pixel, opts limb.Options, layer *coords.Layer, revision int64) (catalog.Disc, error) {
	fit, err := limb.FitPoints(points, opts)
	if err != nil {
		return catalog.Disc{}, fmt.Errorf("frame %s: %w", id, err)
	}
	d := discOf(fit)
	d.Method = catalog.DiscPoints
	return k.putDisc(ctx, "disc points", id, d, layer, revision)
}
