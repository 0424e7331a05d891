package picture

import (
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"

	"golang.org/x/image/tiff"

	"limbwatch/coords/picture/exif"
	"limbwatch/coords/picture/fits"
)

// input is a file to be read, with its bounds.
type input struct {
	io.ReaderAt
	size int64
	opts Options
}

func (in input) reader() *io.SectionReader { return io.NewSectionReader(in, 0, in.size) }

func (in input) decodeFITS(header *Header) (src raster, depth Depth, ceiling float64, err error) {
	img, err := fits.Read(in, in.size, fits.Limits{Pixels: in.opts.maxPixels(), Bytes: maxMemory})
	if errors.Is(err, fits.ErrTooLarge) {
		return nil, Depth{}, 0, &TooLargeError{What: err.Error(), Limit: fmt.Sprintf("%d pixels", in.opts.maxPixels())}
	}
	if errors.Is(err, fits.ErrUnsupported) {
		return nil, Depth{}, 0, &UnsupportedError{What: err.Error(), Advice: "save one plane or three as plain FITS"}
	}
	if err != nil {
		return nil, Depth{}, 0, err
	}
	header.FITS = &img.Header
	return planar{img}, Depth{Bits: max(img.Bitpix, -img.Bitpix), Float: img.Bitpix < 0}, img.Ceiling, nil
}

// decodeImage reads PNG, JPEG and TIFF: first what the header claims, then, if
// that is within bounds, the pixels.
func (in input) decodeImage(header *Header) (src raster, depth Depth, err error) {
	var config image.Config
	var img image.Image
	decode := png.Decode
	switch header.Format {
	case "PNG":
		if err := in.checkPNG(); err != nil {
			return nil, Depth{}, err
		}
		config, err = png.DecodeConfig(in.reader())
	case "JPEG":
		decode = jpeg.Decode
		if config, err = jpeg.DecodeConfig(in.reader()); err == nil {
			err = in.checkJPEG(config)
		}
	case "TIFF":
		decode = tiff.Decode
		if err := in.checkTIFF(header); err != nil {
			return nil, Depth{}, err
		}
		err = guard(func() (err error) { config, err = tiff.DecodeConfig(in.reader()); return err })
	}
	if err != nil {
		return nil, Depth{}, in.explain(header.Format, err)
	}
	if err := in.checkSize(config, bytesPerPixel(config.ColorModel)); err != nil {
		return nil, Depth{}, err
	}
	err = guard(func() (err error) { img, err = decode(in.reader()); return err })
	if err != nil {
		return nil, Depth{}, in.explain(header.Format, err)
	}
	if img.Bounds().Empty() {
		return nil, Depth{}, fmt.Errorf("%s of %v: no pixels", header.Format, img.Bounds())
	}
	src, depth = rasterOf(img)
	return src, depth, nil
}

// guard turns a decoder's panic over a damaged file into an error. The decoders
// are other people's; a bad file must not end the program.
func guard(decode func() error) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("the decoder gave up: %v", r)
		}
	}()
	return decode()
}

// explain puts a decoder's error into the words of this package.
func (in input) explain(format string, err error) error {
	var unsupported string
	var j jpeg.UnsupportedError
	var p png.UnsupportedError
	var t tiff.UnsupportedError
	var tooLarge *TooLargeError
	switch {
	case errors.As(err, &tooLarge):
		return tooLarge
	case err == io.ErrUnexpectedEOF || err == io.EOF:
		return fmt.Errorf("%s: the file is cut short at %d bytes: %w", format, in.size, io.ErrUnexpectedEOF)
	case errors.As(err, &j):
		unsupported = string(j)
	case errors.As(err, &p):
		unsupported = string(p)
	case errors.As(err, &t):
		unsupported = string(t)
	default:
		return fmt.Errorf("%s: %w", format, err)
	}
	return &UnsupportedError{What: fmt.Sprintf("%s with %s", format, unsupported), Advice: "save it as 8 or 16-bit PNG or TIFF, or as FITS"}
}

// checkSize holds the claimed size against the bounds. bytesPerPixel is what the
// decoder needs.
func (in input) checkSize(config image.Config, bytesPerPixel int64) error {
	w, h := int64(config.Width), int64(config.Height)
	if w <= 0 || h <= 0 {
		return fmt.Errorf("a picture of %d x %d pixels", w, h)
	}
	if limit := in.opts.maxPixels(); w > limit || h > limit || w*h > limit {
		return &TooLargeError{What: fmt.Sprintf("a picture of %d x %d pixels", w, h), Limit: fmt.Sprintf("%d pixels", limit)}
	}
	const grey = 4 // bytes of a float32
	if memory := w * h * (grey + bytesPerPixel); memory > maxMemory {
		return &TooLargeError{What: fmt.Sprintf("a picture of %d x %d pixels, %d bytes in memory,", w, h, memory), Limit: fmt.Sprintf("%d bytes", int64(maxMemory))}
	}
	return nil
}

// bytesPerPixel is what a decoded pixel takes.
func bytesPerPixel(model color.Model) int64 {
	switch model {
	case color.GrayModel:
		return 1
	case color.Gray16Model:
		return 2
	case color.RGBA64Model, color.NRGBA64Model:
		return 8
	}
	return 4
}

// deflate can't pack more than 1032 bytes into one (RFC 1951: a match of 258
// bytes in two bits), so that a small file has no large picture.
const deflateAtBest = 1032

// checkPNG holds the claimed size against the length of the file. Bytes 16 to 25
// are width, height, depth and colour type (PNG specification, section 11.2.2).
func (in input) checkPNG() error {
	var head [26]byte
	if _, err := in.ReadAt(head[:], 0); err != nil {
		return in.explain("PNG", err)
	}
	samples := map[byte]float64{0: 1, 2: 3, 3: 1, 4: 2, 6: 4}[head[25]]
	width, height := binary.BigEndian.Uint32(head[16:]), binary.BigEndian.Uint32(head[20:])
	need := float64(width) * float64(height) * samples * float64(head[24]) / 8 / deflateAtBest
	if pixels := float64(width) * float64(height); pixels > float64(in.opts.maxPixels()) {
		return nil // checkSize has the better words
	}
	if need > float64(in.size) {
		return fmt.Errorf("PNG: %d x %d pixels can't be in a file of %d bytes: %w", width, height, in.size, io.ErrUnexpectedEOF)
	}
	return nil
}

// checkJPEG holds the claimed size against the length of the file, and against the
// memory of a progressive picture, whose decoder keeps a 32-bit number for every
// coefficient.
func (in input) checkJPEG(config image.Config) error {
	const (
		progressive   = 0xc2 // start of frame 2 (ITU-T T.81, table B.1)
		pixelsPerByte = 512  // a block of 64 pixels takes one bit at least
	)
	pixels := int64(config.Width) * int64(config.Height)
	if pixels/pixelsPerByte > in.size {
		return fmt.Errorf("%d x %d pixels can't be in a file of %d bytes: %w", config.Width, config.Height, in.size, io.ErrUnexpectedEOF)
	}
	for marker := range exif.Segments(in, in.size) {
		if marker == progressive {
			channels := int64(3)
			if config.ColorModel == color.GrayModel {
				channels = 1
			}
			return in.checkSize(config, channels*5)
		}
	}
	return nil
}
