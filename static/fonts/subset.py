#!/usr/bin/env python3
"""Makes the fonts of this folder from the unpacked packages named in README.md.

Usage: subset.py FOLDER, where FOLDER holds the three unpacked packages as
sans/, condensed/ and serif/. Needs fontTools with the brotli module.

The license reserves the font's name, so a subset must carry another one: the
name table is rewritten, copyright and license entries are kept.
"""
import os
import sys

from fontTools import subset
from fontTools.ttLib import TTFont

# Latin, Latin-1, Latin Extended-A, general punctuation, super- and
# subscripts, fractions, arrows and the few signs of a lab page.
UNICODES = (
    list(range(0x20, 0x7F)) + list(range(0xA0, 0x180)) + [0x218, 0x219, 0x21A, 0x21B]
    + list(range(0x2010, 0x2016)) + list(range(0x2018, 0x201F)) + [0x2020, 0x2022, 0x2026, 0x2030]
    + [0x2032, 0x2033, 0x2039, 0x203A, 0x2044] + [0x2070] + list(range(0x2074, 0x208F))
    + [0x20AC, 0x2116, 0x2122] + list(range(0x2153, 0x215F)) + [0x2190, 0x2191, 0x2192, 0x2193]
    + [0x2202, 0x2212, 0x2215, 0x221A, 0x221E, 0x2248, 0x2260, 0x2264, 0x2265, 0x25CA, 0x2713]
)
FEATURES = ["kern", "tnum", "lnum", "zero", "ccmp", "locl", "mark", "mkmk", "frac", "numr", "dnom", "sups", "subs"]
FACES = [
    ("sans", "IBMPlexSans-Regular", "Sixmile Sans", "Regular"),
    ("sans", "IBMPlexSans-SemiBold", "Sixmile Sans", "SemiBold"),
    ("condensed", "IBMPlexSansCondensed-Regular", "Sixmile Condensed", "Regular"),
    ("condensed", "IBMPlexSansCondensed-SemiBold", "Sixmile Condensed", "SemiBold"),
    ("serif", "IBMPlexSerif-SemiBold", "Sixmile Serif", "SemiBold"),
]
NOTICE = 'Copyright 2017, 2018 IBM Corp. with Reserved Font Name "Plex". Changed: subset and renamed for Sixmile.'


def rename(font, family, style):
    post = family.replace(" ", "") + "-" + style
    new = {0: NOTICE, 1: family if style == "Regular" else f"{family} {style}", 2: "Regular", 3: post,
           4: f"{family} {style}", 6: post, 16: family, 17: style}
    keep = {5, 8, 9, 13, 14}
    table = font["name"]
    table.names = [n for n in table.names if n.platformID == 3 and n.nameID in keep]
    for i, s in new.items():
        table.setName(s, i, 3, 1, 0x409)


def main(root):
    here = os.path.dirname(os.path.abspath(__file__))
    for package, source, family, style in FACES:
        path = os.path.join(root, package, "fonts", "complete", "woff2", source + ".woff2")
        font = TTFont(path, recalcTimestamp=False)
        o = subset.Options()
        o.layout_features, o.hinting, o.notdef_outline = FEATURES, False, True
        o.name_IDs, o.name_languages, o.legacy_cmap = ["*"], ["*"], False
        s = subset.Subsetter(o)
        s.populate(unicodes=UNICODES)
        s.subset(font)
        rename(font, family, style)
        out = os.path.join(here, family.replace(" ", "") + "-" + style)
        font.flavor = None
        font.save(out + ".ttf")
        font.flavor = "woff2"
        font.save(out + ".woff2")


main(sys.argv[1])
