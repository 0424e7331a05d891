// Package picture reads a picture file (PNG, JPEG, TIFF, FITS) into grey levels
// at full depth, with what the file and its surroundings say about itself: the
// capture time, and for FITS the disc and the north of its header.
//
// Most callers need Open, then Picture and Header.
//
// # As shown
//
// Pixel (0, 0) is the centre of the top-left pixel of the picture as shown: EXIF
// and TIFF orientation are applied, and FITS row 1 is at the bottom (FITS pixel
// (X, Y), which count from 1, is x = X − 1, y = height − Y). Everything in this
// package, the header's disc and north included, speaks of the picture as shown.
//
// # What is read
//
//   - PNG of 8 and 16 bit, grey, colour, palette, interlaced or not
//   - JPEG of 8 bit, baseline and progressive
//   - TIFF of 8 and 16 bit, grey, RGB, palette, uncompressed, LZW, deflate or
//     PackBits, strips or tiles; the first page. Not: 32-bit integer and float
//     samples, colour in separate planes, JPEG inside TIFF, BigTIFF
//   - FITS of 8, 16, 32, 64-bit integers and 32, 64-bit floats, one plane or
//     three; the first image. Not: tile-compressed or gzipped files
//
// What is not read is refused with an *UnsupportedError that says what to do.
//
// # Bounds
//
// The size that a header claims is checked against Options.MaxPixels, a fixed
// memory budget and the length of the file before anything is allocated.
package picture
