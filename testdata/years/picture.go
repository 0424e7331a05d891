package years

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

// Paint gives a frame a picture that can be opened: a plain disc, darker to its limb, in a
// file in the folder.
func Paint(ctx context.Context, k observe.Keeper, id catalog.FrameID, folder string) error {
	b, err := k.Store.Read(ctx).Bearings(id)
	if err != nil {
		return err
	}
	limb := b.Disc.Limb
	grey := image.NewGray16(image.Rect(0, 0, b.Frame.WidthPx, b.Frame.HeightPx))
	for y := range b.Frame.HeightPx {
		for x := range b.Frame.WidthPx {
			r := math.Hypot(float64(x)-limb.Centre.X, float64(y)-limb.Centre.Y) / limb.RadiusPx
			if r < 1 {
				grey.SetGray16(x, y, color.Gray16{Y: uint16(20_000 + 30_000*math.Sqrt(1-r*r))})
			}
		}
	}
	var file bytes.Buffer
	if err := png.Encode(&file, grey); err != nil {
		return err
	}
	f := b.Frame
	f.Path = filepath.Join(folder, fmt.Sprintf("%s.png", id))
	sum := sha256.Sum256(file.Bytes())
	f.SHA256 = hex.EncodeToString(sum[:])
	if err := os.WriteFile(f.Path, file.Bytes(), 0o644); err != nil {
		return err
	}
	_, err = k.Store.Update(ctx, store.Change{Title: "a picture", Origin: catalog.Terminal, At: time.Now()}, func(tx *store.Tx) error {
		_, err := tx.EditFrame(f)
		return err
	})
	return err
}
