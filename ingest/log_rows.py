"""Rows of a log as numbers: cell by cell where something is odd, in blocks where every cell is a plain number."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from graph.model import Array

_POINT = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]?(?:\d{1,3}(?:\.\d{3})+|\d+)(?:,\d*)?(?:[eE][+-]?\d+)?|[+-]?,\d+")
_CLOCK = re.compile(r"(?:(\d+):)?(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)")
_EMPTY = frozenset({"", "-", "--", "---", "n/a", "na", "nan", "null", "none", "#n/a"})
_NEWLINE, _ZERO, _MINUS, _PLUS = (ord(c) for c in "\n0-+")
_MOST_DIGITS = 15  # whole numbers of so many digits, and their powers of ten, are exact as doubles
_POWERS = 10 ** np.arange(_MOST_DIGITS + 1, dtype=np.int64)


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


@dataclass(slots=True, kw_only=True)
class Rows:
    """The rows of a log.

    Parameters
    ----------
    width : int
        Columns [1].
    decimal : {'.', ','}
        The decimal sign.
    odd : dict of int to dict of int to str
        By column and row: texts of cells that are neither a number nor empty.
    """

    width: int
    decimal: str
    odd: dict[int, dict[int, str]] = field(default_factory=lambda: defaultdict(dict))
    _blocks: list[tuple[NDArray[np.int64], Array]] = field(default_factory=list)
    _loose: list[tuple[int, list[float]]] = field(default_factory=list)
    _count: int = 0

    def add(self, number: int, cells: list[str]) -> None:
        """Add one row with its number as shown; its cells may be fewer than the columns."""
        values = [np.nan] * self.width
        for index, text in enumerate(cells):
            if is_empty(text):
                continue
            value = number_of(text, self.decimal)
            if value is None or not np.isfinite(value):
                self.odd[index][self._count] = text
            else:
                values[index] = value
        self._loose.append((number, values))
        self._count += 1

    def add_block(self, content: bytes, first: int, delimiter: str) -> bool:
        """Add a block of lines if each is a row of plain numbers.

        Parameters
        ----------
        content : bytes
            Whole lines.
        first : int
            Number of the first of them as shown [1].
        delimiter : str
            What parts the columns.

        Returns
        -------
        bool
            False, with nothing added, where one cell is anything else.
        """
        values = plain_numbers(content, self.width, delimiter, self.decimal)
        if values is None:
            return False
        self._gather()
        self._blocks.append((np.arange(first, first + values.shape[0]), values))
        self._count += values.shape[0]
        return True

    def _gather(self) -> None:
        if self._loose:
            numbers = np.array([n for n, _ in self._loose])
            self._blocks.append((numbers, np.array([v for _, v in self._loose]).reshape(-1, self.width)))
            self._loose = []

    def __len__(self) -> int:
        """Rows so far."""
        return self._count

    def column(self, index: int) -> Array:
        """Numbers of a column, NaN where there is none, shape (rows,)."""
        self._gather()
        if not self._blocks:
            return np.empty(0)
        return np.concatenate([np.ascontiguousarray(values[:, index]) for _, values in self._blocks])

    def number(self, row: int) -> int:
        """Number of a row as shown, for its place among the rows."""
        self._gather()
        for numbers, _ in self._blocks:
            if row < numbers.size:
                return int(numbers[row])
            row -= numbers.size
        raise IndexError(row)

    def filled(self, index: int) -> bool:
        """True if any cell of a column says something."""
        return bool(self.odd.get(index)) or bool(np.isfinite(self.column(index)).any())


def plain_numbers(content: bytes, width: int, delimiter: str, decimal: str) -> Array | None:
    r"""Numbers of a block of lines, if there is nothing in it but numbers, signs that part them and empty cells.

    Parameters
    ----------
    content : bytes
        Whole lines.
    width : int
        Columns [1].
    delimiter, decimal : str
        One character each.

    Returns
    -------
    array, shape (lines, width), or None
        NaN for an empty cell; None where one cell is anything else or a row has fewer than two numbers.

    Examples
    --------
    >>> plain_numbers(b"1,5;2\n;3\n", 2, ";", ",") is None  # one number in the second row is no measurement
    True
    >>> plain_numbers(b"1,5;2;\n-1;300;,5\n", 3, ";", ",")
    array([[  1.5,   2. ,   nan],
           [ -1. , 300. ,   0.5]])
    """
    plain = content.replace(b"\r\n", b"\n")
    if not plain.endswith(b"\n"):
        plain += b"\n"
    signs = np.frombuffer(plain, dtype=np.uint8)
    line_end = signs == _NEWLINE
    ends = np.flatnonzero(line_end | (signs == ord(delimiter)))
    lines = int(line_end.sum())
    if ends.size != lines * width or not line_end[ends[width - 1 :: width]].all():
        return None
    values = _tokens(signs, ends, ord(decimal))
    if values is None:
        return None
    table = values.reshape(-1, width)
    if (np.isfinite(table).sum(axis=1) < min(2, width)).any():
        return None
    return table


def _tokens(signs: NDArray[np.uint8], ends: NDArray[np.intp], point: int) -> Array | None:
    """Numbers of the texts that end before each of `ends`; None where one is no plain number of up to 15 digits.

    Digits are put together as whole numbers, exactly, and divided once by a power of ten, so each result is the
    nearest double, as from the usual conversion.
    """
    digit = (signs - np.uint8(_ZERO)) < 10
    dots = np.flatnonzero(signs == point)
    leading = np.flatnonzero((signs == _MINUS) | (signs == _PLUS))
    if int(digit.sum()) + dots.size + leading.size + ends.size != signs.size:
        return None
    starts = np.empty_like(ends)
    starts[0], starts[1:] = 0, ends[:-1] + 1
    before = np.concatenate([[0], np.cumsum(digit, dtype=np.int64)])  # digits before each place
    counts = before[ends] - before[starts]
    dotted = np.searchsorted(ends, dots)
    signed = np.searchsorted(ends, leading)
    if (
        counts.max(initial=0) > _MOST_DIGITS
        or (np.diff(dotted) == 0).any()
        or (starts[signed] != leading).any()
        or ((counts == 0) & (ends > starts)).any()
    ):
        return None
    filled = np.flatnonzero(counts)
    if filled.size == 0:
        return np.full(ends.size, np.nan)
    sizes = counts[filled]
    last = np.cumsum(sizes)
    power = np.repeat(last, sizes) - 1 - np.arange(last[-1])
    whole = np.add.reduceat((signs[digit] - np.uint8(_ZERO)) * _POWERS[power], last - sizes)
    places = np.zeros(ends.size, dtype=np.int64)
    places[dotted] = before[ends[dotted]] - before[dots]
    values = np.full(ends.size, np.nan)
    values[filled] = whole / _POWERS[places[filled]].astype(float)
    minus = signed[signs[leading] == _MINUS]
    values[minus] = -values[minus]
    return values
