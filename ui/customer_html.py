"""A printed sheet as one HTML file that needs nothing else: style, fonts and drawing inside, no script, nothing fetched."""

from __future__ import annotations

from base64 import b64encode
from functools import cache
from html import escape
from pathlib import Path

from ui.printed import Block, Item, Logo, Picture, Sheet, Table, Text, sheet_data

STYLE = """
:root{color-scheme:light}
*{box-sizing:border-box}
body{margin:0 auto;padding:2rem 1.25rem;max-width:56rem;background:#fff;color:#1E2328;
font:15px/1.4 'Pinchpoint Text',system-ui,sans-serif;font-variant-numeric:lining-nums tabular-nums}
header{display:flex;gap:2rem;justify-content:space-between;align-items:flex-start}header img{height:2.6rem}
header p,footer p,.small{color:#5C5F64;font-size:13px;margin:.15rem 0 .4rem}
h1,h2{font-family:'Pinchpoint Heading',Georgia,serif;font-weight:600;line-height:1.2;margin:.5rem 0}
h1{font-size:1.7rem}h2{font-size:1.15rem}
h1 span,h2 span{color:#5C5F64;margin-right:.6rem;font-size:.8em}
main{display:grid;grid-template-columns:1fr 1fr;column-gap:2rem}
section{border-top:1px solid #D5D1C6;padding:.4rem 0 1rem;min-width:0}
section.wide{grid-column:1/-1}section.first{border-top:0;padding-top:0}
p{margin:.3rem 0 .5rem}svg{width:100%;height:auto;font-family:'Pinchpoint Text',system-ui,sans-serif}
table{border-collapse:collapse;width:100%}
th,td{text-align:left;vertical-align:top;padding:.12rem .6rem .12rem 0;font-weight:400}
thead th,tr.strong td,tr.strong th,.strong{font-weight:600}
.r{text-align:right;white-space:nowrap}.l{white-space:nowrap}tr.ruled>*{border-top:1px solid #1E2328}
.tick{text-align:center}.tick::after{content:'';display:inline-block;width:.8em;height:.8em;border:1px solid #1E2328}
.head.tick::after{content:none}
footer{border-top:1px solid #D5D1C6}.initials{display:inline-block;border-bottom:1px solid #1E2328;padding-right:3rem;margin-left:.5rem;color:#5C5F64;font-size:13px}
.sign{display:flex;gap:2rem;margin-top:3rem}.sign span{flex:1;border-top:1px solid #1E2328;color:#5C5F64;font-size:13px}
@media (max-width:640px){main{display:block}body{padding:1rem}.l{white-space:normal}}
@media print{body{padding:0;font-size:9.5pt}section{break-inside:avoid}}
"""


#: File of a font -> its family and weight; cut down from the fonts of the PDF.
FONTS = {
    "text-regular": ("Pinchpoint Text", 400),
    "text-semibold": ("Pinchpoint Text", 600),
    "heading-semibold": ("Pinchpoint Heading", 600),
}
_FOLDER = Path(__file__).with_name("fonts")


@cache
def font_faces() -> str:
    """The fonts as rules of the style; each stands in the file itself."""
    return "".join(
        f"@font-face{{font-family:'{family}';font-weight:{weight};"
        f"src:url(data:font/woff2;base64,{b64encode((_FOLDER / f'{name}.woff2').read_bytes()).decode()}) format('woff2')}}\n"
        for name, (family, weight) in FONTS.items()
    )


def sheet_html(sheet: Sheet) -> str:
    """A sheet as one HTML document.

    Parameters
    ----------
    sheet : Sheet
        The sheet.

    Returns
    -------
    str
        The document; every text is escaped.

    Raises
    ------
    UsageError
        A picture or the file has no words for those who cannot see it.
    """
    sheet_data(sheet)
    head = _lines(sheet.head) + ("" if sheet.logo is None else _logo(sheet.logo))
    foot = f"<footer>{_lines(sheet.foot)}</footer>" if sheet.foot else ""
    body = "".join(_block(block, first=n == 0) for n, block in enumerate(sheet.blocks))
    return (
        f'<!doctype html>\n<html lang="{escape(sheet.language)}"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:\">"
        f"<title>{escape(sheet.title)}</title><style>{font_faces()}{STYLE}</style></head>"
        f"<body><header>{head}</header><main>{body}</main>{foot}</body></html>\n"
    )


def _lines(lines: tuple[str, ...]) -> str:
    return f"<div>{''.join(f'<p>{escape(line)}</p>' for line in lines)}</div>"


def _logo(logo: Logo) -> str:
    """The mark inside the file; as a picture it runs nothing and fetches nothing."""
    form = {"svg": "svg+xml", "jpg": "jpeg"}.get(logo.form, logo.form)
    return f'<img src="data:image/{form};base64,{b64encode(logo.data).decode()}" alt="{escape(logo.alternative)}">'


def _named(names: str) -> str:
    return f' class="{names}"' if names else ""


def _block(block: Block, *, first: bool) -> str:
    level = "h1" if first else "h2"
    names = " ".join(name for name, given in (("wide", block.wide), ("first", first)) if given)
    items = "".join(_item(item, block) for item in block.items)
    return f"<section{_named(names)}><{level}><span>{block.number}</span>{escape(block.heading)}</{level}>{items}</section>"


def _item(item: Item, block: Block) -> str:
    if isinstance(item, Text):
        names = " ".join(name for name, given in (("small", item.small), ("strong", item.strong)) if given)
        return f"<p{_named(names)}>{escape(item.text)}</p>"
    if isinstance(item, Table):
        return _table(item)
    if isinstance(item, Picture):
        name = f"picture-{block.number}"
        svg = item.svg.replace("<svg ", f'<svg role="img" aria-labelledby="{name}" ', 1)
        at = svg.index(">") + 1
        return f'{svg[:at]}<title id="{name}">{escape(item.alternative)}</title>{svg[at:]}'
    room = f'<span class="initials">{escape(item.initials)}</span>'
    rows = "".join(
        f"<tr><td>{escape(line)}{room if n in item.initialled else ''}</td>"
        + "".join(f'<td class="tick" aria-label="{escape(a)}"></td>' for a in item.answers)
        for n, line in enumerate(item.lines)
    )
    head = "".join(f'<th scope="col" class="head tick">{escape(a)}</th>' for a in item.answers)
    signs = "".join(f"<span>{escape(name)}</span>" for name in item.signatures)
    return f'<table><thead><tr><td></td>{head}</tr></thead>{rows}</table><div class="sign">{signs}</div>'


def _table(table: Table) -> str:
    sides = [{"r": ' class="r"', "l": ' class="l"'}.get(a, "") for a in table.align]
    head = ""
    if table.head:
        cells = "".join(f'<th scope="col"{s}>{escape(c)}</th>' for s, c in zip(sides, table.head, strict=True))
        head = f"<thead><tr>{cells}</tr></thead>"
    rows = []
    for n, row in enumerate(table.rows):
        names = " ".join(name for name, rows_of in (("strong", table.strong), ("ruled", table.ruled)) if n in rows_of)
        cells = "".join(f"<td{s}>{escape(c)}</td>" for s, c in zip(sides, row, strict=True))
        rows.append(f"<tr{_named(names)}>{cells}</tr>")
    about = f' aria-label="{escape(table.about)}"' if table.about else ""
    return f"<table{about}>{head}<tbody>{''.join(rows)}</tbody></table>"
