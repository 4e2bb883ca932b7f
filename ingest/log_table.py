"""A log as a table: what parts the columns, the decimal sign, lines before the head, heads of one to three rows.

Logs differ from sheets: thousands of numbers, a few lines of text before them. So the numbers decide how the text is
to be read, and every row that does not fit them is reported.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from ingest.channel import read_head, split_unit
from ingest.log_unit import is_unit
from ingest.problem import Problem, UnreadableFile
from ingest.table import LARGEST_FILE, read_workbook
from ingest.text_sheet import DELIMITERS, decode

_POINT = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]?(?:\d{1,3}(?:\.\d{3})+|\d+)(?:,\d*)?(?:[eE][+-]?\d+)?|[+-]?,\d+")
_CLOCK = re.compile(r"(?:(\d+):)?(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)")
_EMPTY = frozenset({"", "-", "--", "---", "n/a", "na", "nan", "null", "none", "#n/a"})
_MOST_HEADS = 3
_NOT_TEXT = (b"PK", b"\xd0\xcf\x11\xe0")


@dataclass(slots=True, kw_only=True)
class LogTable:
    """A log taken apart.

    Parameters
    ----------
    file : str
        Its name.
    heads : list of str
        For each column its name with the unit in square brackets.
    rows : list of tuple of int and list of str
        Row number as shown [1] and cells, as many as heads.
    prologue : list of str
        Lines before the head.
    decimal : str
        The decimal sign.
    problems : list of Problem
        Rows that do not fit.
    """

    file: str
    heads: list[str]
    rows: list[tuple[int, list[str]]]
    prologue: list[str]
    decimal: str
    problems: list[Problem] = field(default_factory=list)


def number_of(text: str, decimal: str) -> float | None:
    """A cell's number, or None where it holds none.

    Parameters
    ----------
    text : str
        The cell.
    decimal : {'.', ','}
        The log's decimal sign.

    Returns
    -------
    float or None
        A clock time is given in seconds.

    Examples
    --------
    >>> number_of("1.234,5", ",")
    1234.5
    >>> number_of("01:02,5", ",")
    62.5
    """
    plain = text.strip().replace("\u2212", "-").replace("\u00a0", "").replace("\u202f", "")
    clock = _CLOCK.fullmatch(plain)
    if clock is not None:
        hours, minutes, seconds = clock.groups()
        return int(hours or 0) * 3600.0 + int(minutes) * 60.0 + float(seconds.replace(",", "."))
    if decimal == "," and _COMMA.fullmatch(plain):
        return float(plain.replace(".", "").replace(",", "."))
    if decimal == "." and _POINT.fullmatch(plain):
        return float(plain)
    return None


def is_empty(text: str) -> bool:
    """True if a cell says that there is no value."""
    return text.strip().casefold() in _EMPTY


def read_log_table(path: Path) -> LogTable:
    """Read a log's table from a text file or the first filled sheet of a spreadsheet.

    Parameters
    ----------
    path : Path
        The log.

    Returns
    -------
    LogTable
        Heads and rows.

    Raises
    ------
    UnreadableFile
        Missing, empty, too large, no text, or no table of numbers with a head.
    """
    records, decimal = _records(path)
    numeric = [_is_data(record, decimal) for record in records]
    widths = Counter(len(record) for record, is_data in zip(records, numeric, strict=True) if is_data)
    if not widths:
        raise UnreadableFile(path.name, "there is no table of numbers in it", "export the log as text with its head")
    width = widths.most_common(1)[0][0]
    first, heads, top = _start(records, numeric, width, path.name, decimal)
    table = LogTable(
        file=path.name,
        heads=heads,
        rows=[],
        prologue=[" ".join(c for c in r if c) for r in records[:top] if any(r)],
        decimal=decimal,
    )
    for i in range(len(records)):
        record = records[i]
        if i < first:
            if numeric[i] and len(record) == width:
                table.problems.append(
                    Problem(
                        file=path.name,
                        row=i + 1,
                        found="numbers before the head",
                        expected="the head first",
                        remedy="the row is left out; move it below the head if it is a measurement",
                    )
                )
            continue
        if not any(record):
            continue
        while len(record) > len(heads) and not record[-1]:
            record = record[:-1]
        if not numeric[i]:
            table.problems.append(
                Problem(
                    file=path.name,
                    row=i + 1,
                    found=repr(" ".join(record)[:60]),
                    expected="a row of numbers",
                    remedy="the row is left out; delete it if it is no measurement",
                )
            )
        elif len(record) != len(heads) and not (len(record) < len(heads) and width == len(record)):
            table.problems.append(
                Problem(
                    file=path.name,
                    row=i + 1,
                    found=f"{len(record)} cells",
                    expected=f"{len(heads)} cells as in the head",
                    remedy="the row is left out, its columns may have shifted; export the log again",
                )
            )
        else:
            table.rows.append((i + 1, [*record, *[""] * (len(heads) - len(record))]))
    return table


def _records(path: Path) -> tuple[list[list[str]], str]:
    """Return rows of stripped cells and the decimal sign."""
    if not path.is_file():
        raise UnreadableFile(path.name, "there is no such file", "check the path")
    if path.stat().st_size > LARGEST_FILE:
        raise UnreadableFile(path.name, "it is too large", "cut the pull out and export it alone")
    content = path.read_bytes()
    if not content.strip():
        raise UnreadableFile(path.name, "the file is empty", "export the log again")
    if content.startswith(_NOT_TEXT):
        sheets = [s for s in read_workbook(path).sheets if s.rows]
        if not sheets:
            raise UnreadableFile(path.name, "no sheet holds a cell", "export the log again")
        rows = [[cell.text for cell in row.cells] for row in sheets[0].rows]
        return rows, _decimal(rows)
    text, _ = decode(content, path.name)
    if text.startswith("sep="):
        text = "\n" + text.partition("\n")[2]
    best: tuple[float, list[list[str]], str] | None = None
    for delimiter in DELIMITERS:
        records = [[c.strip() for c in r] for r in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)]
        for decimal in (".", ",") if delimiter != "," else (".",):
            data = [r for r in records if _is_data(r, decimal)]
            if not data:
                continue
            width, count = Counter(len(r) for r in data).most_common(1)[0]
            cells = [c for r in data for c in r if not is_empty(c)]
            share = sum(number_of(c, decimal) is not None for c in cells) / max(len(cells), 1)
            score = count * (width - 1) * share**4
            if width > 1 and (best is None or score > best[0]):
                best = (score, records, decimal)
    if best is None:
        raise UnreadableFile(
            path.name,
            "there is no table of numbers in it",
            "export the log as text parted by semicolons, with its head",
        )
    return best[1], best[2]


def _decimal(rows: list[list[str]]) -> str:
    cells = [c for r in rows for c in r]
    return "," if sum(bool(re.fullmatch(r"[+-]?\d+,\d+", c)) for c in cells) > len(cells) // 10 else "."


def _is_data(record: list[str], decimal: str) -> bool:
    filled = [c for c in record if not is_empty(c)]
    if len(filled) < 2:
        return False
    return sum(number_of(c, decimal) is not None for c in filled) >= 0.6 * len(filled)


def _start(
    records: list[list[str]], numeric: list[bool], width: int, file: str, decimal: str
) -> tuple[int, list[str], int]:
    """First row of the first block of numbers that has a head, its heads, and the head's first row."""
    refused: UnreadableFile | None = None
    for i, record in enumerate(records):
        if not numeric[i] or len(record) != width or (i > 0 and numeric[i - 1] and len(records[i - 1]) == width):
            continue
        try:
            heads, top = _heads(records, i, file, decimal)
        except UnreadableFile as error:
            refused = refused or error
            continue
        return i, heads, top
    raise refused or UnreadableFile(file, "there is no table of numbers in it", "export the log again with its head")


def _heads(records: list[list[str]], first: int, file: str, decimal: str) -> tuple[list[str], int]:
    """Join the rows of the head; return the heads and the index of the head's first row."""
    width = len(records[first])
    above: list[list[str]] = []
    top = first
    for i in range(first - 1, max(first - 1 - _MOST_HEADS, -1), -1):
        filled = [c for c in records[i] if c]
        if not filled:
            if above:
                break
            continue
        if len(filled) < 2 or len(records[i]) < 0.6 * width:
            break
        if any(number_of(c, decimal) is not None for c in filled) and not all(is_unit(c) for c in filled):
            break
        above.insert(0, records[i])
        top = i
    if not above:
        raise UnreadableFile(file, "the numbers have no head", "export the log with the names of its channels")
    units = [""] * width
    if len(above) > 1 and sum(is_unit(c) for c in above[-1]) >= 0.6 * len(above[-1]):
        units = above.pop()
    names = above[-1]
    if len(names) > width and not any(names[width:]):
        names = names[:width]
    size = max(width, len(names))
    group = _group(above[-2], size) if len(above) > 1 else [""] * size
    heads = []
    for k in range(size):
        name = names[k] if k < len(names) else ""
        unit = units[k].strip("[]()").strip() if k < len(units) else ""
        whole = f"{group[k]} {name}".strip()
        chosen = name if read_head(name) is not None or read_head(whole) is None else whole
        bare, own = split_unit(chosen)
        heads.append(f"{bare} [{own or unit}]" if own or unit else chosen)
    return heads, top


def _group(row: list[str], size: int) -> list[str]:
    """Spread the names of groups to the right over their empty cells."""
    spread: list[str] = []
    last = ""
    for k in range(size):
        last = (row[k] if k < len(row) else "") or last
        spread.append(last)
    return spread
