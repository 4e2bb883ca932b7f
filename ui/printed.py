"""A printed sheet as data: numbered blocks of sentences, tables, one picture and lines to tick."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from graph.errors import UsageError


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A sentence or a few."""

    text: str
    strong: bool = False
    small: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows of cells.

    Parameters
    ----------
    rows : tuple of tuple of str
        All of the same length.
    align : str
        One letter a column: l or r, or w for a column that takes the rest of the width.
    head : tuple of str
        Heads of the columns; empty for none.
    strong : tuple of int
        Rows that matter.
    ruled : tuple of int
        Rows with a line above.
    about : str
        What the table shows, for those who cannot see it.
    """

    rows: tuple[tuple[str, ...], ...]
    align: str
    head: tuple[str, ...] = ()
    strong: tuple[int, ...] = ()
    ruled: tuple[int, ...] = ()
    about: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A drawing, and what it shows in words."""

    svg: str
    alternative: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticks:
    """Lines to decide, with a box for each answer, and lines to sign.

    Parameters
    ----------
    lines, answers, signatures : tuple of str
        What is decided, what can be said, who signs.
    initialled : tuple of int
        Lines with room for initials.
    initials : str
        The word at that room.
    """

    lines: tuple[str, ...]
    answers: tuple[str, ...]
    signatures: tuple[str, ...] = ()
    initialled: tuple[int, ...] = ()
    initials: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Logo:
    """A shop's mark: ``svg``, ``png`` or ``jpg``, its bytes, and what it shows in words."""

    form: str
    data: bytes
    alternative: str


Item = Text | Table | Picture | Ticks
_KINDS: Mapping[type, str] = {Text: "text", Table: "table", Picture: "picture", Ticks: "ticks"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One numbered block; a wide one takes the page's whole width."""

    number: int
    heading: str
    items: tuple[Item, ...]
    wide: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A whole sheet.

    Parameters
    ----------
    language : str
        Code, such as ``en``.
    title : str
        Of the file.
    head : tuple of str
        Lines above the first block.
    blocks : tuple of Block
        In reading order; the first one's heading is the answer.
    foot : tuple of str
        Lines below the last block.
    logo : Logo or None
        At the head.
    """

    language: str
    title: str
    head: tuple[str, ...]
    blocks: tuple[Block, ...]
    foot: tuple[str, ...] = ()
    logo: Logo | None = None


def sheet_data(sheet: Sheet) -> dict[str, Any]:
    """A sheet as plain data for a renderer.

    Parameters
    ----------
    sheet : Sheet
        The sheet.

    Returns
    -------
    dict
        Of texts, numbers and lists only.

    Raises
    ------
    UsageError
        A picture or the file has no words for those who cannot see it.
    """
    if not sheet.title.strip():
        raise UsageError("the sheet has no title; a screen reader needs one")
    blocks = []
    for block in sheet.blocks:
        items = []
        for item in block.items:
            if isinstance(item, Picture) and not item.alternative.strip():
                raise UsageError(
                    f"block {block.number}: the picture has no alternative text; say in words what it shows"
                )
            items.append({"kind": _KINDS[type(item)], **{n: getattr(item, n) for n in item.__slots__}})
        blocks.append({"number": block.number, "heading": block.heading, "wide": block.wide, "items": items})
    logo = None
    if sheet.logo is not None:
        if not sheet.logo.alternative.strip():
            raise UsageError("the logo has no alternative text; say in words whose it is")
        logo = {"form": sheet.logo.form, "data": list(sheet.logo.data), "alternative": sheet.logo.alternative}
    return {
        "language": sheet.language,
        "title": sheet.title,
        "head": list(sheet.head),
        "foot": list(sheet.foot),
        "logo": logo,
        "blocks": blocks,
    }


def texts(sheet: Sheet) -> tuple[str, ...]:
    """Every text of a sheet in reading order, the drawing left out."""
    found = [sheet.title, *sheet.head]
    for block in sheet.blocks:
        found.append(block.heading)
        for item in block.items:
            if isinstance(item, Text):
                found.append(item.text)
            elif isinstance(item, Table):
                found += [*item.head, *(cell for row in item.rows for cell in row)]
            elif isinstance(item, Picture):
                found.append(item.alternative)
            else:
                found += [*item.lines, *item.answers, item.initials, *item.signatures]
    return (*found, *sheet.foot)
