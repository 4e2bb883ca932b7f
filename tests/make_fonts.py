"""Make the small fonts that a customer's page carries inside its HTML file, from the fonts of its PDF.

    pip install fonttools brotli        # into an environment of their own
    python tests/make_fonts.py

Letters of the languages of Europe written in Latin letters, figures, punctuation and the signs of the page. The licence
(SIL Open Font License 1.1) lets a font be cut down and given away under another name than the reserved one, which these
bear; its text goes with them.
"""

from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

FOLDER = Path(__file__).resolve().parent.parent / "ui" / "fonts"
#: File -> family and style of what is made of it.
MADE = {
    "SourceSansPro-Regular": ("Pinchpoint Text", "Regular", "text-regular"),
    "SourceSansPro-Semibold": ("Pinchpoint Text", "Semibold", "text-semibold"),
    "SourceSerifPro-Semibold": ("Pinchpoint Heading", "Semibold", "heading-semibold"),
}
LETTERS = {
    *range(0x20, 0x7F),
    *range(0xA0, 0x180),  # Latin-1 and Latin Extended-A
    *map(ord, "–—‘’‚“”„…′″€−×·• ±≤≥→\u202f\u2009\u00ad"),
}
#: Names of a font that say what it is called; copyright and licence stay.
FAMILY, STYLE, UNIQUE, FULL, POSTSCRIPT, TRADEMARK = 1, 2, 3, 4, 6, 7
OTHERS = (5, 8, 9, 10, 11, 12, 16, 17, 18, 21, 22)


def make(source: str, family: str, style: str, name: str) -> None:
    """Cut one font down and give it its name."""
    font = TTFont(FOLDER / f"{source}.ttf")
    options = subset.Options(
        layout_features=["kern", "liga", "tnum", "lnum", "mark", "ccmp"], hinting=False, name_IDs=["*"]
    )
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=LETTERS)
    cutter.subset(font)
    names = font["name"]
    for record in (*OTHERS, TRADEMARK):
        names.removeNames(nameID=record)
    full = f"{family} {style}"
    for record, text in (
        (FAMILY, family),
        (STYLE, style),
        (UNIQUE, full),
        (FULL, full),
        (POSTSCRIPT, full.replace(" ", "")),
    ):
        names.setName(text, record, 3, 1, 0x409)
        names.removeNames(nameID=record, platformID=1)
    font["head"].modified = font["head"].created  # the same bytes every time
    font.recalcTimestamp = False
    font.flavor = "woff2"
    out = FOLDER / f"{name}.woff2"
    font.save(out)
    print(f"{out.name}: {out.stat().st_size // 1024} kB")


if __name__ == "__main__":
    for source, (family, style, name) in MADE.items():
        make(source, family, style, name)
