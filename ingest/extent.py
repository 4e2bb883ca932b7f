"""How far the cells of a sheet reach, counted before a reader lays them out as one block."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field

from ingest.problem import Problem, UnreadableFile

_CHUNK = 1 << 20
#: Where the last end mark of a block is looked for first.
_TAIL = 1 << 15


@dataclass(slots=True, kw_only=True)
class Scan:
    """What a look through the archive found.

    Parameters
    ----------
    kind : {'xlsx', 'xls', 'ods'}
        What the file is.
    problems : dict of str to list of Problem
        Sheet name to its cells that show an error or a formula without a stored result.
    percentages : dict of str to frozenset of str
        Sheet name to the cells whose number is shown as a percentage, such as ``C7``.
    """

    kind: str
    problems: dict[str, list[Problem]] = field(default_factory=dict)
    percentages: dict[str, frozenset[str]] = field(default_factory=dict)


class Extent:
    """Counts the block that the reader will lay out; raises where it is too large.

    Parameters
    ----------
    file : str
        The file's name, for the messages.
    most_cells : int
        Most cells, all sheets together [1].
    largest_width : int
        Most columns of a sheet [1].
    """

    def __init__(self, file: str, most_cells: int, largest_width: int) -> None:
        self.file, self.most_cells, self.largest_width = file, most_cells, largest_width
        self.before = self.height = self.width = 0

    def next_sheet(self) -> None:
        """Start the next sheet."""
        self.before += self.height * self.width
        self.height = self.width = 0

    def grow(self, height: int, width: int) -> None:
        """Take a filled cell into the block.

        Parameters
        ----------
        height, width : int
            Row and column of the cell [1], counted from 1.

        Raises
        ------
        UnreadableFile
            When the block has become too large.
        """
        self.height, self.width = max(self.height, height), max(self.width, width)
        if self.width > self.largest_width:
            raise UnreadableFile(self.file, f"more than {self.largest_width} columns", "delete far-off stray cells")
        if self.before + self.height * self.width > self.most_cells:
            raise UnreadableFile(
                self.file,
                f"more than {self.most_cells} cells up to row {self.height} and column {self.width}",
                "delete far-off stray cells or split the file",
            )


def pieces(archive: zipfile.ZipFile, name: str, end: re.Pattern[bytes]) -> Iterator[bytes]:
    """Yield a member piece by piece, each up to and including an end mark; the tail last.

    Parameters
    ----------
    archive : ZipFile
        The open archive.
    name : str
        The member.
    end : Pattern
        The end mark.

    Yields
    ------
    bytes
        One piece.
    """
    for block in blocks(archive, name, end):
        yield from parted(block, end)


def blocks(archive: zipfile.ZipFile, name: str, end: re.Pattern[bytes]) -> Iterator[bytes]:
    """Yield a member in blocks of many pieces, each up to and including an end mark; the tail last.

    Parameters
    ----------
    archive : ZipFile
        The open archive.
    name : str
        The member.
    end : Pattern
        The end mark.

    Yields
    ------
    bytes
        One block.
    """
    rest = b""
    with archive.open(name) as stream:
        while chunk := stream.read(_CHUNK):
            rest += chunk
            last = 0
            for match in end.finditer(rest, max(0, len(rest) - _TAIL)):
                last = match.end()
            if not last:
                last = max((match.end() for match in end.finditer(rest)), default=0)
            if last:
                yield rest[:last]
                rest = rest[last:]
    yield rest


def parted(block: bytes, end: re.Pattern[bytes]) -> Iterator[bytes]:
    """Yield the pieces of a block, each up to and including an end mark, and what stands behind the last one."""
    start = 0
    for match in end.finditer(block):
        yield block[start : match.end()]
        start = match.end()
    if start < len(block):
        yield block[start:]


def never_calculated(row: int, column: str) -> Problem:
    """Return the defect of a formula without a stored result.

    Parameters
    ----------
    row : int
        The row's number as shown [1].
    column : str
        The column's letters.

    Returns
    -------
    Problem
        Without its file and sheet.
    """
    return Problem(
        row=row,
        column=column,
        found="a formula without a stored result",
        expected="a value",
        remedy="open the file in the spreadsheet program, let it calculate, and save it",
    )


def shows_error(row: int, column: str, shown: str) -> Problem:
    """Return the defect of a cell that shows an error.

    Parameters
    ----------
    row : int
        The row's number as shown [1].
    column : str
        The column's letters.
    shown : str
        What the cell shows, such as ``#REF!``.

    Returns
    -------
    Problem
        Without its file and sheet.
    """
    return Problem(
        row=row,
        column=column,
        found=f"the error {shown}",
        expected="a value",
        remedy="repair the formula, or write the value in its place",
    )


def column_letters(index: int) -> str:
    """Return the letters of a column.

    Parameters
    ----------
    index : int
        Position of the column [1], counted from 0.

    Returns
    -------
    str
        Letters as the spreadsheet shows them.

    Examples
    --------
    >>> column_letters(0), column_letters(27)
    ('A', 'AB')
    """
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def column_index(letters: str) -> int:
    """Return the position of a column from its letters.

    Parameters
    ----------
    letters : str
        As the spreadsheet shows them.

    Returns
    -------
    int
        Position [1], counted from 0.

    Examples
    --------
    >>> column_index("A"), column_index("AB")
    (0, 27)
    """
    index = 0
    for letter in letters:
        index = index * 26 + ord(letter) - 64
    return index - 1
