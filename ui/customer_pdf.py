"""A printed sheet as PDF: set by Typst with the fonts of this package, nothing fetched, the same bytes every time."""

from __future__ import annotations

import calendar
import datetime
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ui.printed import Sheet, sheet_data

if TYPE_CHECKING:
    import typst

_TEMPLATE = Path(__file__).with_name("customer.typ")
_FONTS = Path(__file__).with_name("fonts")


def sheet_pdf(sheet: Sheet, date: datetime.date, author: str = "") -> bytes:
    """A sheet as a tagged PDF.

    Parameters
    ----------
    sheet : Sheet
        The sheet.
    date : datetime.date
        Of the file; nothing else in it depends on the day.
    author : str
        Whose sheet it is.

    Returns
    -------
    bytes
        PDF by the accessible standard; the same for the same sheet, date and author.

    Raises
    ------
    UsageError
        A picture or the file has no words for those who cannot see it.

    References
    ----------
    ISO 14289-1 (PDF/UA-1), as checked by the typesetter Typst.
    """
    import typst

    return typst.compile(
        _TEMPLATE,
        root=_TEMPLATE.parent,
        font_paths=_fonts(),
        sys_inputs={"data": _data(sheet, date, author)},
        pdf_standards=["ua-1"],
        timestamp=_noon(date),
    )


def sheet_pictures(sheet: Sheet, date: datetime.date, author: str = "", resolution: float = 110.0) -> list[bytes]:
    """The pages of a sheet as PNG pictures.

    Parameters
    ----------
    sheet, date, author
        As for the PDF.
    resolution : float
        Dots per inch [1/0.0254 m].

    Returns
    -------
    list of bytes
        One picture a page.
    """
    import typst

    # One picture comes as bytes, several as a list of them.
    made: Any = typst.compile(
        _TEMPLATE,
        root=_TEMPLATE.parent,
        font_paths=_fonts(),
        sys_inputs={"data": _data(sheet, date, author)},
        format="png",
        ppi=resolution,
        timestamp=_noon(date),
    )
    return list(made) if isinstance(made, list) else [made]


def _data(sheet: Sheet, date: datetime.date, author: str) -> str:
    named = {"author": author, "year": date.year, "month": date.month, "day": date.day}
    return json.dumps(sheet_data(sheet) | named, ensure_ascii=False)


def _noon(date: datetime.date) -> int:
    return calendar.timegm((date.year, date.month, date.day, 12, 0, 0))


def _fonts() -> typst.Fonts:
    import typst

    return typst.Fonts(include_system_fonts=False, font_paths=[str(_FONTS)])
