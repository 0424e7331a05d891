#!/usr/bin/python3
"""Writes solar_wcs.csv: headers with solar coordinates, and where Astropy's WCS
(wcslib, full gnomonic projection) puts the Sun's centre and points of its limb.

    cd testdata/images && /usr/bin/python3 make_solar_wcs.py > solar_wcs.csv

Pixels are those of the picture as shown: x = X - 1, y = height - Y.
"""
import random
import astropy
from astropy.io import fits
from astropy.wcs import WCS

random.seed(20260314)
R = 955.0
print(f"# source: Astropy {astropy.__version__} (wcslib); solar radius {R} arcsec; seed 20260314")
print("# pixels as shown, x = X - 1, y = height - Y; north, west: the limb's points at solar north and west")
print("form,width,height,crpix1,crpix2,crval1,crval2,cdelt1,cdelt2,crota2,pc1_1,pc1_2,pc2_1,pc2_2,cunit,"
      "centre_x,centre_y,north_x,north_y,west_x,west_y")
for n in range(40):
    form = ["crota", "pc", "cd"][n % 3]
    width, height = random.randint(500, 4096), random.randint(500, 4096)
    unit = ["arcsec", "deg"][n % 2]
    per = {"arcsec": 1.0, "deg": 3600.0}[unit]
    scale = 2.6 * R / min(width, height)
    mirror = -1 if n % 5 == 4 else 1
    skew = 1.05 if n % 4 == 3 else 1.0
    d1, d2 = mirror * scale / per, skew * scale / per
    turn = random.uniform(-180, 180)
    h = fits.Header()
    h["NAXIS"], h["NAXIS1"], h["NAXIS2"] = 2, width, height
    h["CTYPE1"], h["CTYPE2"], h["CUNIT1"], h["CUNIT2"] = "HPLN-TAN", "HPLT-TAN", unit, unit
    h["CRPIX1"], h["CRPIX2"] = width / 2 + random.uniform(-90, 90), height / 2 + random.uniform(-90, 90)
    h["CRVAL1"], h["CRVAL2"] = random.uniform(-300, 300) / per, random.uniform(-300, 300) / per
    import math
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    pc = [""] * 4
    rota = ""
    if form == "crota":
        h["CDELT1"], h["CDELT2"], h["CROTA2"] = d1, d2, turn
        rota = turn
    elif form == "pc":
        h["CDELT1"], h["CDELT2"] = d1, d2
        pc = [c, -s * d2 / d1, s * d1 / d2, c]
        h["PC1_1"], h["PC1_2"], h["PC2_1"], h["PC2_2"] = pc
    else:
        pc = [d1 * c, -d2 * s, d1 * s, d2 * c]
        h["CD1_1"], h["CD1_2"], h["CD2_1"], h["CD2_2"] = pc
    w = WCS(h)  # wcslib brings the units to degrees
    points = [(0, 0), (0, R / 3600), (R / 3600, 0)]
    shown = []
    for lon, lat in points:
        X, Y = w.wcs_world2pix([[lon, lat]], 1)[0]
        shown += [f"{X - 1:.6f}", f"{height - Y:.6f}"]
    cd1 = h.get("CDELT1", "")
    cd2 = h.get("CDELT2", "")
    print(",".join(str(v) for v in [form, width, height, h["CRPIX1"], h["CRPIX2"], h["CRVAL1"], h["CRVAL2"], cd1, cd2, rota, *pc, unit, *shown]))
