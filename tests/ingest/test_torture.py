"""Workbooks that other projects keep because they broke a reader: each gives its values or one sentence, and soon.

The files and the expected text lie in the source archives of xlsx2csv 0.8.6 (MIT) and tablib 3.10.0 (MIT), which
``tests/fetch_sdists.sh`` fetches. Where this reader shows a cell in another way than xlsx2csv does (dates in ISO form,
percentages with all their digits, links as their text), :data:`OTHERWISE` says so, file by file.
"""

from __future__ import annotations

import csv
import io
import os
import re
import tarfile
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from ingest.book import read_book
from ingest.problem import UnreadableFile
from ingest.table import read_workbook

CACHE = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
FOLDER = Path(os.environ.get("PINCHPOINT_SDISTS") or CACHE / "pinchpoint" / "sdists")
ENDINGS = (".xlsx", ".xlsm", ".xls", ".ods")
SLOWEST = 5.0  # s
ARCHIVES = {"xlsx2csv-0.8.6": 22, "tablib-3.10.0": 9}
PAIRS = (
    "datetime", "empty_row", "escape", "float", "float2", "formatted_inline_string", "hyperlinks",
    "hyperlinks_continous", "input-weird", "junk-small", "last-column-empty", "namespace", "no_cell_ids",
    "percentage", "sheets", "sheets_order", "skip_empty_lines", "timeformat", "twolettercolumns", "utf8",
    "variousdelim", "xlsx2csv-test-file",
)  # fmt: skip


@pytest.fixture(scope="module")
def torture(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("torture")
    for name in ARCHIVES:
        archive = FOLDER / f"{name}.tar.gz"
        if not archive.is_file():
            pytest.fail(f"{archive} is missing: run 'bash tests/fetch_sdists.sh' once while there is a network")
        with tarfile.open(archive) as source:
            source.extractall(folder, filter="data")
    return folder


@pytest.mark.parametrize(("archive", "count"), ARCHIVES.items())
def test_every_file_gives_values_or_one_sentence(torture: Path, archive: str, count: int) -> None:
    files = sorted(p for p in (torture / archive).rglob("*") if p.suffix in ENDINGS)
    assert len(files) == count
    for path in files:
        start = time.monotonic()
        sentence, sheets = _read(path)
        book = read_book([path])
        assert time.monotonic() - start < SLOWEST, path.name
        assert sheets or (sentence.startswith(f"{path.name}: ") and "\n" not in sentence), path.name
        assert all("\n" not in problem.found for problem in book.problems), path.name


def _read(path: Path) -> tuple[str, int]:
    """The sentence of a file that cannot be read, or the number of its sheets."""
    try:
        return "", len(read_workbook(path).sheets)
    except UnreadableFile as error:
        return str(error), 0


def test_none_of_them_is_refused(torture: Path) -> None:
    files = [p for p in torture.rglob("*") if p.suffix in ENDINGS]
    assert {path.name: said for path in files if (said := _read(path)[0])} == {}


def test_errors_of_an_old_workbook_are_told(torture: Path) -> None:
    """The four errors are those that tablib's own test of this file expects."""
    (sheet,) = read_workbook(torture / "tablib-3.10.0" / "tests" / "files" / "errors.xls").sheets
    told = [(problem.row, problem.column, problem.found) for problem in sheet.problems]
    shown = ("#DIV/0!", "#NAME?", "#N/A", "#N/A")
    assert told == [(2, column, f"the error {error}") for column, error in zip("ABCD", shown, strict=True)]


Rewrite = Callable[[str], str]


def _date(*forms: str) -> Rewrite:
    def rewrite(text: str) -> str:
        for form in forms:
            try:
                moment = datetime.strptime(text.replace('"', ""), form)
            except ValueError:
                continue
            if "%Y" not in form and "%y" not in form:
                return moment.strftime("%H:%M")
            whole = moment.time() == datetime.min.time()
            return moment.date().isoformat() if whole else moment.isoformat()
        return text

    return rewrite


#: File: how the expected text is rewritten, and why this reader shows something else.
OTHERWISE: dict[str, tuple[Rewrite, str]] = {
    "datetime": (_date("%Y-%m-%d %H:%M:%S"), "a moment is shown in ISO form"),
    "junk-small": (_date("%d-%b-%Y", "%y-%m-%d"), "a date is shown in ISO form, whatever its format"),
    "timeformat": (_date("%d-%m-%Y %H:%M:%S", "%H:%M"), "a moment is shown in ISO form and a time with its seconds"),
    "escape": (lambda t: t.replace("\\n", "\n").replace("\\t", "\t"), "the expected text was made with escapes"),
    "hyperlinks": (lambda t: re.sub("<[^>]*>", "", t), "a link is its text"),
    "hyperlinks_continous": (lambda t: re.sub("<[^>]*>", "", t), "a link is its text"),
    "formatted_inline_string": (
        lambda t: t.replace("Regular Bold", "RegularBold"),
        "a space at the end of a run without xml:space='preserve' does not count",
    ),
}
#: Pairs whose expected text drops blank rows.
WITHOUT_BLANK_ROWS = {"skip_empty_lines"}


def _expected(path: Path, name: str) -> list[list[list[str]]]:
    """Rows of the expected text for each sheet that it holds."""
    text = path.read_bytes().decode("utf-8")
    if name == "variousdelim":  # tabs, a carriage return at the end of a row, sheets parted by '!'
        rows = [line.split("\t") for line in text.split("\r") if line]
    else:
        rows = list(csv.reader(io.StringIO(text.replace("\r\n", "\n"), newline="")))
    rewrite = OTHERWISE.get(name, (str, ""))[0]
    sheets: list[list[list[str]]] = []
    for row in rows:
        if len(row) == 1 and re.fullmatch(r"(-{8}|!) \d+ - .*", row[0]):
            sheets.append([])
            continue
        if not sheets:
            sheets.append([])
        sheets[-1].append(_trimmed([rewrite(cell).strip() for cell in row]))
    for sheet in sheets:
        while sheet and not sheet[-1]:
            sheet.pop()
    return sheets


def _trimmed(row: list[str]) -> list[str]:
    while row and not row[-1]:
        row.pop()
    return row


def _equal(shown: str, expected: str) -> bool:
    """Equal texts, or numbers that are equal after the rounding of the expected one."""
    if shown == expected:
        return True
    if re.fullmatch(r"\d\d:\d\d:\d\d", shown) and re.fullmatch(r"\d\d:\d\d", expected):
        return shown.startswith(expected)
    written = re.fullmatch(r"-?\d+(?:\.(?P<decimals>\d+))?(?P<percent>%?)", expected)
    number = re.fullmatch(r"(-?[\d.]+(?:e[+-]?\d+)?)(?P<percent> %)?", shown)
    if written is None or number is None:
        return False
    value = float(number[1])
    if number["percent"] and not written["percent"]:
        value /= 100.0
    digits = len(written["decimals"] or "")
    return abs(value - float(expected.rstrip("%"))) <= 0.5000001 * 10.0**-digits or value == float(expected)


@pytest.mark.parametrize("name", PAIRS)
def test_text_equals_the_expected_table(torture: Path, name: str) -> None:
    folder = torture / "xlsx2csv-0.8.6" / "test"
    path = next(p for p in (folder / f"{name}.xlsx", folder / f"{name}.xlsm") if p.exists())
    expected = _expected(folder / f"{name}.csv", name)
    sheets = read_workbook(path).sheets[: len(expected)]
    assert len(sheets) == len(expected)
    for sheet, wanted in zip(sheets, expected, strict=True):
        shown = [[cell.text for cell in row.cells] for row in sheet.rows]
        if name in WITHOUT_BLANK_ROWS:
            shown = [row for row in shown if row]
        assert len(shown) == len(wanted)
        for number, (row, want) in enumerate(zip(shown, wanted, strict=True), start=1):
            assert len(row) == len(want), number
            assert all(_equal(a, b) for a, b in zip(row, want, strict=True)), (number, row, want)
