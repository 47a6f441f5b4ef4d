"""Make the subset typefaces of this folder from the full fonts.

    python make_subset.py FOLDER

FOLDER holds the files named in `FACES` as their makers publish them (see README.md). The
result depends on nothing else; run it again only to take up a newer release.
"""

from __future__ import annotations

import sys
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

FACES = {
    "serif-regular": "LibertinusSerif_400Regular.ttf",
    "serif-italic": "LibertinusSerif_400Regular_Italic.ttf",
    "serif-bold": "LibertinusSerif_700Bold.ttf",
    "mono-regular": "DejaVuSansMono.ttf",
}
MEASURED = "serif-regular"
"""Kept as TTF too: the plots measure their labels with it."""

SCRIPTS = [
    (0x20, 0x7E),
    (0xA0, 0x24F),
    (0x2B0, 0x2FF),
    (0x300, 0x33F),
    (0x370, 0x3FF),
    (0x400, 0x45F),
    (0x1E00, 0x1EFF),
]
SIGNS = [
    (0x1D2C, 0x1D6A),  # raised and lowered letters
    (0x2000, 0x206F),  # spaces and punctuation
    (0x2070, 0x209C),  # raised and lowered figures
    (0x20A0, 0x20BF),  # currency
    (0x2100, 0x214F),  # letterlike signs
    (0x2150, 0x215F),  # fractions
    (0x2190, 0x2199),  # arrows
    (0x2200, 0x22FF),  # mathematical signs
    (0x2500, 0x257F),  # lines, for listings
    (0x25A0, 0x25FF),  # squares, circles
    (0x2713, 0x2717),
    (0xFFFD, 0xFFFD),
]


def make(source: Path, target: Path) -> None:
    """Subset one face and write it as WOFF2 (and TTF where it is measured)."""
    options = subset.Options()
    options.hinting = False
    options.layout_features = ["kern", "mark", "mkmk", "ccmp", "locl", "tnum", "lnum"]
    options.name_IDs = ["*"]
    options.notdef_outline = True
    options.recalc_timestamp = False
    font = TTFont(source, recalcTimestamp=False)
    chooser = subset.Subsetter(options)
    chooser.populate(unicodes=[code for low, high in SCRIPTS + SIGNS for code in range(low, high + 1)])
    chooser.subset(font)
    if target.name == MEASURED:
        font.save(target.with_suffix(".ttf"))
    font.flavor = "woff2"
    font.save(target.with_suffix(".woff2"))


if __name__ == "__main__":
    for name, original in FACES.items():
        make(Path(sys.argv[1]) / original, Path(__file__).with_name(name))
