"""A log as text: what parts its columns, its decimal sign, and its records, before anything is known of its channels."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from ingest.log_rows import is_empty, number_of
from ingest.problem import UnreadableFile
from ingest.table import read_workbook
from ingest.text_sheet import DELIMITERS, decode

#: Letters from which it is told what parts the columns, and letters read at a time behind them [1].
SAMPLE, BLOCK = 1 << 14, 1 << 18
#: Largest log, and most of it that may be anything but plain numbers [bytes].
LARGEST_LOG, MOST_ODD = 128 << 20, 16 << 20
_NOT_TEXT = (b"PK", b"\xd0\xcf\x11\xe0")


@dataclass(slots=True, kw_only=True)
class Source:
    """A log before its table.

    Parameters
    ----------
    records : list of list of str
        Of the sample.
    decimal, delimiter : str
        The decimal sign, and what parts the columns.
    rest : str
        Text behind the sample.
    """

    records: list[list[str]]
    decimal: str
    delimiter: str = ";"
    rest: str = ""


def read_log_text(path: Path) -> str | list[list[str]]:
    """Text of a log.

    Parameters
    ----------
    path : Path
        The log.

    Returns
    -------
    str or list of list of str
        Its text, or the cells of the first filled sheet of a spreadsheet.

    Raises
    ------
    UnreadableFile
        Missing, empty, too large or no text.
    """
    if not path.is_file():
        raise UnreadableFile(path.name, "there is no such file", "check the path")
    size = path.stat().st_size
    if size > LARGEST_LOG:
        found = f"{size / 2**20:.0f} MB is more than the {LARGEST_LOG >> 20} MB read"
        raise UnreadableFile(path.name, found, "cut the pull out and export it alone")
    content = path.read_bytes()
    if not content.strip():
        raise UnreadableFile(path.name, "the file is empty", "export the log again")
    if content.startswith(_NOT_TEXT):
        sheets = [s for s in read_workbook(path).sheets if s.rows]
        if not sheets:
            raise UnreadableFile(path.name, "no sheet holds a cell", "export the log again")
        return [[cell.text for cell in row.cells] for row in sheets[0].rows]
    text, _ = decode(content, path.name)
    return "\n" + text.partition("\n")[2] if text.startswith("sep=") else text


def part(text: str, file: str, sample: int) -> Source:
    """Find out from a sample what parts the columns and which decimal sign the log has.

    Parameters
    ----------
    text : str
        The whole log.
    file : str
        Its name.
    sample : int
        Letters of the sample [1]; it ends with a line.

    Returns
    -------
    Source
        Records of the sample, and what follows it.

    Raises
    ------
    UnreadableFile
        The sample holds no table of numbers.
    """
    cut = len(text) if len(text) <= sample else text.rfind("\n", 0, sample) + 1
    if '"' in text[:cut]:
        cut = min(len(text), MOST_ODD)  # a quoted cell may hold an end of line
    best: tuple[float, str, str] | None = None
    for delimiter in DELIMITERS:
        records = parted(text[: min(cut, sample)], delimiter)
        for decimal in (".", ",") if delimiter != "," else (".",):
            data = [r for r in records if is_data(r, decimal)]
            if not data:
                continue
            width, count = Counter(len(r) for r in data).most_common(1)[0]
            cells = [c for r in data for c in r if not is_empty(c)]
            share = sum(number_of(c, decimal) is not None for c in cells) / max(len(cells), 1)
            score = count * (width - 1) * share**4
            if width > 1 and (best is None or score > best[0]):
                best = (score, delimiter, decimal)
    if best is None:
        raise UnreadableFile(
            file,
            "there is no table of numbers in it",
            "export the log as text parted by semicolons, with its head",
        )
    return Source(records=parted(text[:cut], best[1]), decimal=best[2], delimiter=best[1], rest=text[cut:])


def parted(text: str, delimiter: str) -> list[list[str]]:
    """Rows of stripped cells; none where the text cannot be parted so."""
    try:
        return [[c.strip() for c in r] for r in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)]
    except csv.Error:
        return []


def decimal_of(rows: list[list[str]]) -> str:
    """Decimal sign of the cells of a spreadsheet."""
    cells = [c for r in rows for c in r]
    return "," if sum(bool(re.fullmatch(r"[+-]?\d+,\d+", c)) for c in cells) > len(cells) // 10 else "."


def is_data(record: list[str], decimal: str) -> bool:
    """True if a record is a row of numbers: at least two cells are filled, and most of them with numbers."""
    filled = [c for c in record if not is_empty(c)]
    if len(filled) < 2:
        return False
    return sum(number_of(c, decimal) is not None for c in filled) >= 0.6 * len(filled)


def blocks_of(text: str) -> Iterator[str]:
    """Parts of a text that end with a line."""
    start = 0
    while start < len(text):
        end = text.rfind("\n", start, start + BLOCK) + 1
        end = len(text) if start + BLOCK >= len(text) else end or text.find("\n", start) + 1 or len(text)
        yield text[start:end]
        start = end
