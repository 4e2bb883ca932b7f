"""A log as a table: what parts the columns, the decimal sign, lines before the head, heads of one to three rows.

Logs differ from sheets: thousands of numbers, a few lines of text before them. So the numbers decide how the text is
to be read, and every row that does not fit them is reported.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from ingest.channel import read_head, split_unit
from ingest.log_rows import Rows, number_of
from ingest.log_source import MOST_ODD, SAMPLE, Source, blocks_of, decimal_of, is_data, part, parted, read_log_text
from ingest.log_unit import is_unit
from ingest.problem import Problem, UnreadableFile

_MOST_HEADS = 3
#: Most columns of a log [1].
MOST_CHANNELS = 2000


@dataclass(slots=True, kw_only=True)
class LogTable:
    """A log taken apart.

    Parameters
    ----------
    file : str
        Its name.
    heads : list of str
        For each column its name with the unit in square brackets.
    rows : Rows
        Numbers, as many columns as heads.
    prologue : list of str
        Lines before the head.
    decimal : str
        The decimal sign.
    problems : list of Problem
        Rows that do not fit.
    """

    file: str
    heads: list[str]
    rows: Rows
    prologue: list[str]
    decimal: str
    problems: list[Problem] = field(default_factory=list)

    def defect(self, row: int, found: str, expected: str, remedy: str) -> None:
        """Note a row that does not fit."""
        self.problems.append(Problem(file=self.file, row=row, found=found, expected=expected, remedy=remedy))


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
    text = read_log_text(path)
    if isinstance(text, list):
        return _table(path.name, Source(records=text, decimal=decimal_of(text)))
    sample = SAMPLE
    while True:
        try:
            return _table(path.name, part(text, path.name, sample))
        except UnreadableFile:
            if sample >= len(text):
                raise
            sample *= 64  # many lines before the head


def _table(file: str, source: Source) -> LogTable:
    records, decimal = source.records, source.decimal
    numeric = [is_data(record, decimal) for record in records]
    widths = Counter(len(record) for record, plain in zip(records, numeric, strict=True) if plain)
    if not widths:
        raise UnreadableFile(file, "there is no table of numbers in it", "export the log as text with its head")
    width = widths.most_common(1)[0][0]
    if width > MOST_CHANNELS:
        found = f"{width} columns are more than the {MOST_CHANNELS} read"
        raise UnreadableFile(file, found, "export the log with fewer channels")
    first, heads, top = _start(records, numeric, width, file, decimal)
    table = LogTable(
        file=file,
        heads=heads,
        rows=Rows(width=len(heads), decimal=decimal),
        prologue=[" ".join(c for c in r if c) for r in records[:top] if any(r)],
        decimal=decimal,
    )
    for i in range(first):
        if numeric[i] and len(records[i]) == width:
            remedy = "the row is left out; move it below the head if it is a measurement"
            table.defect(i + 1, "numbers before the head", "the head first", remedy)
    others = [i for i in range(top) if numeric[i] and len(records[i]) != width]
    if len(others) > 1:
        found = f"{len(others)} rows of {len(records[others[0]])} numbers above the head that is read"
        table.defect(
            others[0] + 1, found, "one head for all rows", "they are left out; cut the log where its columns change"
        )
    for i in range(first, len(records)):
        _add(table, i + 1, records[i], width)
    _add_rest(table, source, len(records) + 1, width)
    return table


def _add(table: LogTable, number: int, record: list[str], width: int) -> None:
    """Add one record of text to the rows, or say why it is none."""
    if not any(record):
        return
    while len(record) > len(table.heads) and not record[-1]:
        record = record[:-1]
    if not is_data(record, table.decimal):
        remedy = "the row is left out; delete it if it is no measurement"
        table.defect(number, repr(" ".join(record)[:60]), "a row of numbers", remedy)
    elif len(record) != len(table.heads) and not (len(record) < len(table.heads) and width == len(record)):
        remedy = "the row is left out, its columns may have shifted; export the log again"
        table.defect(number, f"{len(record)} cells", f"{len(table.heads)} cells as in the head", remedy)
    else:
        table.rows.add(number, record)


def _add_rest(table: LogTable, source: Source, number: int, width: int) -> None:
    """Add what follows the sample: block by block as plain numbers, cell by cell where a block holds anything else."""
    rest, odd = source.rest, 0
    blocks = [rest] if '"' in rest else blocks_of(rest)
    for block in blocks:
        lines = block.count("\n") + (not block.endswith("\n"))
        plain = width == len(table.heads) and '"' not in block
        if plain and table.rows.add_block(block.encode(), number, source.delimiter):
            number += lines
            continue
        odd += len(block)
        if odd > MOST_ODD:
            found = f"more than {MOST_ODD >> 20} MB of it are no plain numbers"
            raise UnreadableFile(table.file, found, "cut the pull out and export it alone")
        records = parted(block, source.delimiter)
        for k, record in enumerate(records):
            _add(table, number + k, record, width)
        number += len(records)


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
