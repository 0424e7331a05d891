#!/usr/bin/python3
"""Writes the small pictures of this folder with libraries that the project does
not use: Astropy (FITS), Pillow and ImageMagick (PNG, JPEG, TIFF).

    cd testdata/images && /usr/bin/python3 make_images.py

Every picture shows one pattern, a formula of column x and row y as shown, which
the tests of coords/picture write down again.
"""
import os, subprocess
import numpy as np
from astropy.io import fits
from PIL import Image, ImageOps
from PIL.TiffImagePlugin import IFDRational

W, H = 23, 14
x, y = np.meshgrid(np.arange(W), np.arange(H))
g8 = ((x * 11 + y * 17 + (x * y) % 7 * 5) % 251).astype(np.uint8)
g16 = (g8.astype(np.uint16) * 257 + (x + 3 * y) % 256).astype(np.uint16)
rgb16 = np.dstack([g16, g16 // 2 + y, g16 // 5 + x]).astype(np.uint16)
rgb8 = (rgb16 >> 8).astype(np.uint8)


# ---- FITS: the first row of the file is the bottom one.
def write(name, data, bzero=None, bscale=None, blank=None, cards=(), up=True):
    hdu = fits.PrimaryHDU(data[..., ::-1, :] if up else data)
    if bzero is not None or bscale is not None:
        hdu.header["BZERO"], hdu.header["BSCALE"] = bzero or 0.0, bscale or 1.0
    if blank is not None:
        hdu.header["BLANK"] = blank
    for key, value in cards:
        hdu.header[key] = value
    hdu.writeto(name, overwrite=True, output_verify="ignore")


write("u8.fits", g8)
write("i16.fits", (g8.astype(np.int16) * 100 - 12000).astype(np.int16))
write("u16.fits", g16)  # Astropy writes BZERO 32768
write("i32.fits", (g8.astype(np.int32) * 70001 - 5).astype(np.int32))
write("u32.fits", g8.astype(np.uint32) * 17000001)  # BZERO 2**31
write("i64.fits", g8.astype(np.int64) * 70001)
f = g8.astype(np.float32) * 0.37 - 20
f[2, 3] = np.nan
write("f32.fits", f)
d = g8.astype(np.float64) * 1e-3 + 7
d[0, 0], d[1, 0] = np.inf, np.nan
write("f64.fits", d)
write("rgb16.fits", np.moveaxis(rgb16, 2, 0))
# BSCALE, BZERO and BLANK by hand: stored g8, physical 10 + 0.5 g8, 250 means no value.
raw = fits.PrimaryHDU(g8.astype(np.int16)[::-1])
raw.header["BSCALE"], raw.header["BZERO"], raw.header["BLANK"] = 0.5, 10.0, 250
raw.header["DATE-OBS"] = "2024-05-12T09:15:03.25"
raw.header["EXPTIME"] = 0.5
raw.data = None
bytes_ = (g8.astype(">i2")[::-1]).tobytes()
head = raw.header.copy()
head["NAXIS"], head["BITPIX"] = 2, 16
head.insert("NAXIS", ("NAXIS1", W), after=True)
head.insert("NAXIS1", ("NAXIS2", H), after=True)
with open("scaled.fits", "wb") as out:
    out.write(head.tostring().encode() + bytes_ + b"\0" * (-len(bytes_) % 2880))
fits.HDUList([fits.PrimaryHDU(), fits.BinTableHDU.from_columns([fits.Column("a", "J", array=[1, 2])]),
              fits.ImageHDU(g16[::-1])]).writeto("extension.fits", overwrite=True)
fits.HDUList([fits.PrimaryHDU(), fits.CompImageHDU(g16[::-1])]).writeto("compressed.fits", overwrite=True)
write("cube5.fits", np.stack([g8] * 5))


# ---- PNG, JPEG, TIFF.
def magick(raw, kind, name, *args):
    with open("/tmp/raw", "wb") as out:
        out.write(raw.tobytes())
    depth = raw.dtype.itemsize * 8
    subprocess.run(["convert", "-size", f"{W}x{H}", "-depth", str(depth), "-endian", "LSB", f"{kind}:/tmp/raw",
                    "-strip", *args, "-depth", str(depth), name], check=True)
    os.remove("/tmp/raw")


Image.fromarray(g8).save("g8.png")
magick(g16, "gray", "g16.png", "-define", "png:color-type=0", "-define", "png:bit-depth=16")
magick(rgb16, "rgb", "rgb16.png", "-define", "png:color-type=2", "-define", "png:bit-depth=16")
magick(g16, "gray", "g16_interlaced.png", "-define", "png:color-type=0", "-define", "png:bit-depth=16", "-interlace", "PNG")
Image.fromarray(np.dstack([g8] * 3)).save("grey_in_colour.png")
Image.fromarray(g8).convert("P").save("palette.png")
Image.fromarray(np.dstack([g8, np.full_like(g8, 255)]), "LA").save("g8_alpha.png")

for name, args in {"none": ["None"], "lzw": ["LZW"], "zip": ["Zip"], "lzw_predictor": ["LZW", "-define", "tiff:predictor=2"],
                   "zip_predictor": ["Zip", "-define", "tiff:predictor=2"], "packbits": ["RLE"]}.items():
    magick(g16, "gray", f"g16_{name}.tif", "-compress", *args)
magick(rgb16, "rgb", "rgb16_lzw.tif", "-compress", "LZW")
magick(rgb8, "rgb", "rgb8_zip.tif", "-compress", "Zip")
magick(g16, "gray", "g16_bigendian.tif", "-compress", "None", "-endian", "MSB")
magick(g16, "gray", "g16_tiled.tif", "-compress", "Zip", "-define", "tiff:tile-geometry=16x16")
magick(rgb16, "rgb", "rgb16_planar.tif", "-compress", "None", "-interlace", "Plane")
Image.fromarray(g8.astype(np.float32)).save("float32.tif")
Image.fromarray(g8.astype(np.int32)).save("int32.tif")

# Stored in each of the eight orientations so that it shows the same pattern.
stored = {1: g8, 2: g8[:, ::-1], 3: g8[::-1, ::-1], 4: g8[::-1], 5: g8.T, 6: np.rot90(g8), 7: g8[::-1, ::-1].T, 8: np.rot90(g8, -1)}
for o, s in stored.items():
    Image.fromarray(np.ascontiguousarray(s)).save(f"orientation{o}.tif", tiffinfo={274: o})
    shown = subprocess.run(["convert", f"orientation{o}.tif", "-auto-orient", "-depth", "8", "gray:-"], check=True, capture_output=True).stdout
    assert shown == g8.tobytes(), o

# JPEG: smooth, so that it survives; turned by EXIF, with time, zone and decimals.
smooth = (20 + 8 * x + 3 * y).astype(np.uint8)
Image.fromarray(smooth).save("smooth.jpg", quality=98)
exif = Image.Exif()
exif[0x0112] = 6
exif[0x0132] = "2024:06:01 20:00:00"  # when an editor saved it
exif[0x8769] = {0x9003: "2024:05:12 11:15:03", 0x9291: "25", 0x9011: "+02:00", 0x829A: IFDRational(1, 250)}
Image.fromarray(np.ascontiguousarray(np.rot90(smooth))).save("exif.jpg", quality=98, exif=exif)
assert np.abs(np.asarray(ImageOps.exif_transpose(Image.open("exif.jpg"))).astype(int) - smooth).max() <= 2
bare = Image.Exif()
bare[0x8769] = {0x9003: "2024:05:12 11:15:03"}
Image.fromarray(smooth).save("exif_no_zone.png", exif=bare)
