package picture

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"limbwatch/coords/picture/capture"
	"limbwatch/coords/picture/exif"
	"limbwatch/coords/picture/fits"
	"limbwatch/coords/picture/wcs"
	"limbwatch/coords/plainfile"
)

// Options bounds and steers reading. The zero value is what most callers want.
//
//	Channel    of a colour picture; Auto lets the picture decide
//	MaxPixels  width times height at most; 0 is 100 million
//	MaxBytes   length of the file at most; 0 is 1 GiB
//	Name       the file's name, for Decode, where a date and time may stand in it
type Options struct {
	Channel   Channel
	MaxPixels int
	MaxBytes  int64
	Name      string
}

const (
	defaultMaxPixels = 100_000_000
	defaultMaxBytes  = 1 << 30
	// maxMemory bounds what decoding may hold: the decoded picture and the grey one.
	maxMemory = 1 << 30
)

func (o Options) maxPixels() int64 {
	if o.MaxPixels > 0 {
		return int64(o.MaxPixels)
	}
	return defaultMaxPixels
}

func (o Options) maxBytes() int64 {
	if o.MaxBytes > 0 {
		return o.MaxBytes
	}
	return defaultMaxBytes
}

// Header is what a file says besides its pixels.
//
//	Format       "PNG", "JPEG", "TIFF" or "FITS"
//	Bytes        length of the file
//	SHA256       its checksum, lower-case hexadecimal; a moved file is known by it
//	Orientation  as stored; the Picture is already turned
//	FITS         the cards, for FITS alone
//	WCS          disc and solar north by the FITS header; nil where it has neither
//	Times        the capture times as written, in all sources; see Capture
//	Warnings     what seemed odd but did not stop reading
type Header struct {
	Format      string
	Bytes       int64
	SHA256      string
	Orientation Orientation
	FITS        *fits.Header
	WCS         *wcs.Solar
	Times       capture.Found
	Warnings    []string
}

// Capture is the time the picture was taken, with what the caller knows about
// zones. Errors are those of capture.Found.Resolve.
func (h *Header) Capture(opts capture.Options) (capture.Capture, error) {
	return h.Times.Resolve(opts)
}

// Open reads a picture file. The format is told by its content, not its name.
//
// Errors name the file. *UnsupportedError and *TooLargeError can be told apart;
// anything else is a file that can't be opened or is damaged.
func Open(path string, opts Options) (*Picture, *Header, error) {
	name := filepath.Base(path)
	file, err := plainfile.Open(path)
	if err != nil {
		return nil, nil, err
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		return nil, nil, err
	}
	if opts.Name == "" {
		opts.Name = name
	}
	pic, header, err := Decode(file, info.Size(), opts)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", name, err)
	}
	header.addTextBeside(path)
	return pic, header, nil
}

// addTextBeside looks for a text file of the same base name in the same folder.
func (h *Header) addTextBeside(path string) {
	text, found, err := textBeside(path)
	if err != nil {
		h.Warnings = append(h.Warnings, fmt.Sprintf("text file beside the picture: %v", err))
		return
	}
	if found {
		h.Times = capture.Join(h.Times, capture.FromText(text))
	}
}

// textBeside reads NAME.txt for a picture NAME.EXT, or NAME.EXT.txt, in whatever
// case.
func textBeside(path string) (text []byte, found bool, err error) {
	folder, name := filepath.Split(path)
	stem := strings.TrimSuffix(name, filepath.Ext(name))
	for _, candidate := range []string{stem + ".txt", stem + ".TXT", stem + ".Txt", name + ".txt", name + ".TXT"} {
		file, err := plainfile.Open(filepath.Join(folder, candidate))
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, false, err
		}
		defer file.Close()
		const enough = 1<<20 + 1 // capture.FromText refuses more than a mebibyte
		text, err = io.ReadAll(io.LimitReader(file, enough))
		return text, err == nil, err
	}
	return nil, false, nil
}

// Decode reads a picture of size bytes from r. Errors are those of Open, without
// a name.
func Decode(r io.ReaderAt, size int64, opts Options) (*Picture, *Header, error) {
	if size > opts.maxBytes() {
		return nil, nil, &TooLargeError{What: fmt.Sprintf("a file of %d bytes", size), Limit: fmt.Sprintf("%d bytes", opts.maxBytes())}
	}
	sum, err := checksum(r, size)
	if err != nil {
		return nil, nil, err
	}
	header := &Header{Bytes: size, SHA256: sum}
	if header.Format, err = formatOf(r); err != nil {
		return nil, nil, err
	}
	in := input{ReaderAt: r, size: size, opts: opts}
	if header.Format != "FITS" {
		in.readEXIF(header)
	}
	var src raster
	var depth Depth
	var ceiling float64
	if header.Format == "FITS" {
		src, depth, ceiling, err = in.decodeFITS(header)
	} else {
		src, depth, err = in.decodeImage(header)
		ceiling = fullScale(depth)
	}
	if err != nil {
		return nil, nil, err
	}
	if header.FITS != nil {
		width, height := src.size()
		header.WCS = wcs.Read(*header.FITS, width, height)
		header.Times = capture.Join(header.Times, capture.FromFITS(*header.FITS))
		if order, _ := header.FITS.Text("ROWORDER"); order == "TOP-DOWN" {
			header.Warnings = append(header.Warnings, "the header says ROWORDER TOP-DOWN, but FITS is shown with row 1 at the bottom: against the camera's own program this picture is upside down, which mirrors it")
		}
	}
	header.Times = capture.Join(header.Times, capture.FromName(opts.Name))
	return reduce(src, depth, ceiling, header.Orientation, opts.Channel), header, nil
}

// readEXIF takes time and orientation. Damaged EXIF doesn't spoil the picture.
func (in input) readEXIF(header *Header) {
	tags, err := exif.Read(in, in.size, header.Format)
	if err != nil {
		header.Warnings = append(header.Warnings, err.Error())
	}
	header.Orientation = Orientation(tags.Orientation)
	header.Times = capture.Join(header.Times, capture.FromEXIF(tags))
}

// checksum is the SHA-256 of the whole input.
func checksum(r io.ReaderAt, size int64) (string, error) {
	hash := sha256.New()
	if _, err := io.Copy(hash, io.NewSectionReader(r, 0, size)); err != nil {
		return "", err
	}
	return hex.EncodeToString(hash.Sum(nil)), nil
}

// formatOf tells the format by the first bytes.
func formatOf(r io.ReaderAt) (string, error) {
	var head [9]byte
	n, err := r.ReadAt(head[:], 0)
	if err != nil && err != io.EOF {
		return "", err
	}
	begins := func(signature string) bool { return bytes.HasPrefix(head[:n], []byte(signature)) }
	switch {
	case begins("\x89PNG\r\n\x1a\n"):
		return "PNG", nil
	case begins("\xff\xd8\xff"):
		return "JPEG", nil
	case begins("II*\x00"), begins("MM\x00*"):
		return "TIFF", nil
	case begins("SIMPLE  ="):
		return "FITS", nil
	case begins("II+\x00"), begins("MM\x00+"):
		return "", &UnsupportedError{What: "a BigTIFF", Advice: "save it as plain TIFF, PNG or FITS"}
	case begins("\x1f\x8b"):
		return "", &UnsupportedError{What: "a gzipped file", Advice: "unpack it first"}
	case n == 0:
		return "", fmt.Errorf("the file is empty")
	}
	return "", &UnsupportedError{What: "this kind of file", Advice: "save the picture as PNG, JPEG, TIFF or FITS"}
}

// UnsupportedError reports a file that is sound, for all we know, but not read.
// Advice says what the user can do about it.
type UnsupportedError struct{ What, Advice string }

func (e *UnsupportedError) Error() string { return e.What + " is not read; " + e.Advice }

// TooLargeError reports a picture beyond the bounds, found before it was decoded.
type TooLargeError struct{ What, Limit string }

func (e *TooLargeError) Error() string {
	return fmt.Sprintf("%s is more than the %s allowed", e.What, e.Limit)
}
