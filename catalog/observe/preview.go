package observe

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"io/fs"
	"math"
	"path/filepath"
	"slices"

	"limbwatch/catalog"
	"limbwatch/catalog/wholefile"
	"limbwatch/coords/picture"
	"limbwatch/coords/plainfile"
)

// previewPx is the longer side of a preview, at most.
const previewPx = 800

// maxPreviewBytes is more than any preview has: a byte a pixel, and PNG's own.
const maxPreviewBytes = 4 * previewPx * previewPx

// Preview is a frame's picture made small, from a copy kept beside the catalogue: a
// report of a month needs thirty of them, and reading the pictures themselves takes
// long. The copy is made when it is not there. Frame coordinates are those of the
// picture: a preview has Width / f.WidthPx of its scale. Errors: those of reading
// the picture, *ChangedFileError.
//
// Levels are kept in 256 steps of their square root: enough to look at, not to
// measure.
func (k Keeper) Preview(f catalog.Frame) (*picture.Picture, error) {
	if !f.HasFile() {
		return nil, nil
	}
	data, err := plainfile.Read(k.previewPath(f), maxPreviewBytes)
	if err == nil {
		if pic, err := decodePreview(data); err == nil {
			return pic, nil
		}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	pic, _, err := openFrame(f)
	if err != nil {
		return nil, err
	}
	return k.KeepPreview(f, pic)
}

// KeepPreview makes the copy of a frame's picture that Preview reads, and gives the
// preview. A copy that cannot be written is no error: it is made anew next time.
func (k Keeper) KeepPreview(f catalog.Frame, pic *picture.Picture) (*picture.Picture, error) {
	data, err := encodePreview(pic)
	if err != nil {
		return nil, err
	}
	path := k.previewPath(f)
	if wholefile.Folder(filepath.Dir(path)) == nil {
		_ = wholefile.Write(path, true, func(w io.Writer) error {
			_, err := w.Write(data)
			return err
		})
	}
	return decodePreview(data)
}

// previewPath is where the copy of a frame's picture lies.
func (k Keeper) previewPath(f catalog.Frame) string {
	name := f.SHA256
	if f.Channel != "" {
		name += "-" + f.Channel
	}
	return filepath.Join(k.Store.Path()+".previews", name+".png")
}

func encodePreview(pic *picture.Picture) ([]byte, error) {
	factor := max(1, (max(pic.Width, pic.Height)+previewPx-1)/previewPx)
	width, height := max(1, pic.Width/factor), max(1, pic.Height/factor)
	grey := make([]float64, width*height)
	for y := range height {
		for x := range width {
			sum := 0.0
			for dy := range factor {
				for dx := range factor {
					sum += float64(pic.At(min(x*factor+dx, pic.Width-1), min(y*factor+dy, pic.Height-1)))
				}
			}
			grey[y*width+x] = sum / float64(factor*factor)
		}
	}
	low, high := usedRange(grey)
	small := image.NewGray(image.Rect(0, 0, width, height))
	for i, v := range grey {
		small.Pix[i] = uint8(255*math.Sqrt(max(0, min(1, (v-low)/(high-low)))) + 0.5)
	}
	var b bytes.Buffer
	encoder := png.Encoder{CompressionLevel: png.BestSpeed}
	err := encoder.Encode(&b, small)
	return b.Bytes(), err
}

// usedRange is the range of levels but for the few lowest and highest, which are
// flaws of the camera.
func usedRange(grey []float64) (low, high float64) {
	var sample []float64
	for i := 0; i < len(grey); i += max(1, len(grey)/50_000) {
		if !math.IsNaN(grey[i]) {
			sample = append(sample, grey[i])
		}
	}
	if len(sample) == 0 {
		return 0, 1
	}
	slices.Sort(sample)
	low, high = sample[len(sample)/2000], sample[len(sample)-1-len(sample)/10_000]
	if high <= low {
		high = low + 1
	}
	return low, high
}

func decodePreview(data []byte) (*picture.Picture, error) {
	m, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	small, ok := m.(*image.Gray)
	if !ok {
		return nil, fmt.Errorf("preview is a %T", m)
	}
	width, height := small.Rect.Dx(), small.Rect.Dy()
	grey := make([]float32, width*height)
	for y := range height {
		for x := range width {
			v := float32(small.Pix[y*small.Stride+x])
			grey[y*width+x] = v * v
		}
	}
	return picture.New(width, height, grey, picture.Depth{Bits: 16})
}
