"""Text tables: decoding without guessing, and the sign that parts the columns.

The order of decoding is fixed: byte-order mark, strict UTF-8, then cp1252. Statistical guessing is wrong on the short
sheets of a workshop.
"""

from __future__ import annotations

import codecs
import csv
import io
import itertools
import re
from collections import Counter
from dataclasses import dataclass

from ingest.problem import UnreadableFile

DELIMITERS = (";", "\t", "|", ",")
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_CONTROL = re.compile("[\x00-\x08\x0e-\x1f]")
_NAMES = {";": "semicolons", "\t": "tabs", "|": "bars", ",": "commas"}
_SAMPLE_LINES = 200
_NO_DELIMITER = "\x1f"  # refused in every text by then


@dataclass(frozen=True, slots=True, kw_only=True)
class TextTable:
    """A text table taken apart.

    Parameters
    ----------
    records : list of list of str
        The fields of each record, blank records included.
    encoding : str
        How the bytes were decoded.
    delimiter : str
        What parts the columns; empty for a single column.
    first_row : int
        Number of the first record as the spreadsheet shows it [1].
    """

    records: list[list[str]]
    encoding: str
    delimiter: str
    first_row: int = 1


def read_text(content: bytes, file: str, *, delimiter: str | None, most_cells: int, largest_width: int) -> TextTable:
    """Read a text table.

    Parameters
    ----------
    content : bytes
        The whole file.
    file : str
        Its name, for the messages.
    delimiter : str or None
        What parts the columns, where a person has said so.
    most_cells : int
        Most cells that are read [1].
    largest_width : int
        Most columns that are read [1].

    Returns
    -------
    TextTable
        The records.

    Raises
    ------
    UnreadableFile
        Not a text, in doubt about its columns, damaged quotes, too large.
    """
    text, encoding = decode(content, file)
    if re.match(r"\s*<(?:!doctype|html|\?xml|table)", text[:200], re.IGNORECASE):
        raise UnreadableFile(file, "this is a web page or XML, whatever its name says", "save it as XLSX, ODS or CSV")
    declared = re.match(r'"?sep=([;,|\t])"?\r?\n', text)  # a line for the spreadsheet, which does not show it
    if declared:
        text = text[declared.end() :]
        delimiter = delimiter or declared[1]
    if delimiter is None:
        delimiter = find_delimiter(text, file)
    records: list[list[str]] = []
    cells = 0
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter or _NO_DELIMITER, strict=True)
    try:
        for record in reader:
            cells += len(record)
            if len(record) > largest_width:
                raise UnreadableFile(file, f"more than {largest_width} columns", "check what parts the columns")
            if cells > most_cells:
                raise UnreadableFile(file, f"more than {most_cells} cells", "split the file")
            records.append(record)
    except csv.Error as error:
        raise UnreadableFile(
            file, f"line {reader.line_num} has quotation marks that do not pair ({error})", "export the table again"
        ) from error
    return TextTable(records=records, encoding=encoding, delimiter=delimiter)


def decode(content: bytes, file: str) -> tuple[str, str]:
    """Decode the bytes of a text table.

    Parameters
    ----------
    content : bytes
        The whole file.
    file : str
        Its name, for the messages.

    Returns
    -------
    text : str
        The text without its byte-order mark.
    encoding : str
        What it was decoded from.

    Raises
    ------
    UnreadableFile
        When the bytes are no text.

    Examples
    --------
    >>> decode("Düse".encode("cp1252"), "parts.csv")
    ('Düse', 'cp1252')
    """
    named = [encoding for mark, encoding in _MARKS if content.startswith(mark)]
    for encoding in named[:1] or ["utf-8", "cp1252"]:
        try:
            text = content.decode(encoding)
        except UnicodeError:
            continue
        if _CONTROL.search(text):
            break
        return text, encoding
    raise UnreadableFile(file, "this is no text and no spreadsheet", "export the table as XLSX, ODS or CSV in UTF-8")


def find_delimiter(text: str, file: str) -> str:
    r"""Return what parts the columns of a text table.

    Parameters
    ----------
    text : str
        The decoded text.
    file : str
        Its name, for the message.

    Returns
    -------
    str
        One of ``; , |`` and tab; empty when the table has one column.

    Raises
    ------
    UnreadableFile
        When two signs part the columns equally well.

    Examples
    --------
    >>> find_delimiter("no;flow\nPY-1;0,188\n", "pumps.csv")
    ';'
    """
    sample = "".join(itertools.islice(io.StringIO(text), _SAMPLE_LINES))
    scores: dict[str, float] = {}
    for delimiter in DELIMITERS:
        if delimiter == "," and not re.search(r"(?<!\d),|,(?!\d)", sample):
            continue  # every comma stands between digits: a decimal sign
        try:
            records = [record for record in csv.reader(io.StringIO(sample), delimiter=delimiter) if any(record)]
        except csv.Error:
            continue
        widths = Counter(len(record) for record in records if len(record) > 1)
        if widths:
            parted = sum(widths.values()) / len(records)
            scores[delimiter] = parted * widths.most_common(1)[0][1] / sum(widths.values())
    if not scores:
        if re.search(r"\d,\d", sample) and all("," in line for line in sample.splitlines() if line.strip()):
            raise UnreadableFile(
                file, "its commas may part columns or be decimal signs", "name the sign that parts the columns"
            )
        return ""
    (best, score), *others = sorted(scores.items(), key=lambda item: -item[1])
    if others and others[0][1] > 0.8 * score:
        rival = others[0][0]
        raise UnreadableFile(
            file,
            f"its columns may be parted by {_NAMES[best]} or by {_NAMES[rival]}",
            "name the sign that parts the columns",
        )
    return best
