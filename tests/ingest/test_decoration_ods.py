"""An ODS workbook says the same beside its values as an XLSX one, and is asked the same questions.

The files are written by odfpy; which attribute hides, strikes or colours is that of OpenDocument 1.3, part 3.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from odf.dc import Creator
from odf.office import Annotation
from odf.opendocument import OpenDocumentSpreadsheet
from odf.style import Style, TableCellProperties, TextProperties
from odf.table import CoveredTableCell, Table, TableCell, TableColumn, TableRow
from odf.text import P

from ingest.book import read_book
from ingest.table import decorations

HEAD = ("No.", "Part", "Slot", "Fits", "Rating of", "Rating", "Unit", "Evidence")
ROWS = (
    ("T-1", "box", "air box", "E1", "air flow", "300", "g/s", "own bench"),
    ("T-2", "pipe", "charge pipe", "E1", "boost", "1.7", "bar gauge", "own log"),
    ("T-3", "clutch", "clutch", "E1", "torque", "430", "N·m", "own log"),
)


def _write(path: Path, spoil: str = "") -> Path:
    book = OpenDocumentSpreadsheet()
    for name, made in (
        ("struck", TextProperties(textlinethroughstyle="solid")),
        ("ink", TextProperties(color="#c00000")),
        ("fill", TableCellProperties(backgroundcolor="#ff5050")),
    ):
        style = Style(name=name, family="table-cell")
        style.addElement(made)
        book.automaticstyles.addElement(style)
    base = Style(name="base", family="table-cell")  # a style of the shop's own, and one that is made from it
    base.addElement(TextProperties(textlinethroughstyle="solid"))
    book.styles.addElement(base)
    book.automaticstyles.addElement(Style(name="child", family="table-cell", parentstylename="base"))
    table = Table(name="Parts")
    for at in range(len(HEAD)):
        table.addElement(TableColumn(visibility="collapse" if spoil == "column" and at == 5 else "visible"))
    for number, row in enumerate((HEAD, *ROWS), start=1):
        line = TableRow(visibility="collapse" if spoil == "row" and number == 3 else "visible")
        for at, text in enumerate(row):
            more: dict[str, Any] = (
                {"stylename": spoil} if spoil in ("struck", "ink", "fill", "child") and number == 3 else {}
            )
            if spoil == "merged" and number == 2 and at == 2:
                more = {"numberrowsspanned": 2, "numbercolumnsspanned": 1}
            if spoil == "merged" and number == 3 and at == 2:
                line.addElement(CoveredTableCell())
                continue
            cell = TableCell(valuetype="string", **more)
            if spoil == "comment" and (number, at) == (3, 5):
                note = Annotation()
                note.addElement(Creator(text="desk"))
                note.addElement(P(text="ask again"))
                cell.addElement(note)
            cell.addElement(P(text=text))
            line.addElement(cell)
        table.addElement(line)
    book.spreadsheet.addElement(table)
    book.save(str(path))
    return path


def test_a_plain_file_says_nothing(tmp_path: Path) -> None:
    book = read_book([_write(tmp_path / "plain.ods")])
    assert [p.sentence for p in book.problems] == []
    assert len(book.parts) == 3


@pytest.mark.parametrize(
    ("spoil", "row", "column", "said"),
    [
        ("row", 3, "A", "a hidden row (T-2)"),
        ("column", 1, "F", "a hidden column headed 'Rating'"),
        ("struck", 3, "A", "a row struck through (T-2)"),
        ("child", 3, "A", "a row struck through (T-2)"),
        ("ink", 3, "A", "a row in red (T-2)"),
        ("fill", 3, "A", "a row in red (T-2)"),
        ("comment", 3, "F", "the comment 'ask again'"),
    ],
)
def test_what_is_beside_the_values_is_a_question(spoil: str, row: int, column: str, said: str, tmp_path: Path) -> None:
    book = read_book([_write(tmp_path / "shop.ods", spoil)])
    assert [(p.row, p.column, p.found) for p in book.problems] == [(row, column, said)]
    assert len(book.parts) == 3  # the values are read all the same


def test_a_merged_slot_is_named_with_its_block(tmp_path: Path) -> None:
    path = _write(tmp_path / "shop.ods", "merged")
    assert decorations(path)["Parts"].merged == ("C2:C3",)
    book = read_book([path])
    assert any("the cell is merged in C2:C3" in p.found and (p.row, p.column) == (3, "C") for p in book.problems)
