"""One small sheet in every format reads as the same rows; a bad file gives one sentence."""

from __future__ import annotations

import datetime
import io
import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill

from graph.errors import PinchpointError
from graph.quantity import Quantity
from ingest import table
from ingest.problem import UnreadableFile
from ingest.table import Sheet, column_letters, decorations, read_workbook
from ingest.units import read_value

ROWS: list[list[str | float | None]] = [
    ["Pump list", None, None, None],
    [],
    ["No", "Part", "Flow", "Dose [cm³/stroke]"],
    ["PY-1", "Düse, groß", "16,5 g/s @ 100", 0.235],
    [None, "second \N{MICRO SIGN}", None, 12],
    ["PY-3", 'a "quoted" part; small', "1\u00a0000 g/s", 1.5],
]
ENCODABLE = "utf-8", "utf-8-sig", "utf-16", "cp1252"


def write_xlsx(path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Fuel"
    for row in ROWS:
        sheet.append(row)
    book.save(path)


def write_ods(path: Path) -> None:
    document = OpenDocumentSpreadsheet()
    sheet = Table(name="Fuel")
    for row in ROWS:
        line = TableRow()
        for value in row:
            if value is None:
                line.addElement(TableCell())
                continue
            kind = {"valuetype": "string"} if isinstance(value, str) else {"valuetype": "float", "value": value}
            cell = TableCell(**kind)
            cell.addElement(P(text=str(value)))
            line.addElement(cell)
        sheet.addElement(line)
    document.spreadsheet.addElement(sheet)
    document.save(str(path))


def csv_text(delimiter: str = ";", decimal: str = ",") -> str:
    lines = []
    for row in ROWS:
        fields = ["" if value is None else str(value).replace(".", decimal) if not isinstance(value, str) else value
                  for value in row]  # fmt: skip
        lines.append(delimiter.join('"' + field.replace('"', '""') + '"' if set(field) & set('";,\t|') else field
                                    for field in fields))  # fmt: skip
    return "\r\n".join(lines) + "\r\n"


def texts(sheet: Sheet) -> list[list[str]]:
    return [[cell.text for cell in row.cells] for row in sheet.rows]


def doses(sheet: Sheet) -> list[float]:
    cells = [row.cells[3].value for row in sheet.rows[3:]]
    return [read_value(value, Quantity.VOLUME, declared_unit="cm3/stroke", decimal=",").value for value in cells]


EXPECTED = [
    ["Pump list"],
    [],
    ["No", "Part", "Flow", "Dose [cm³/stroke]"],
    ["PY-1", "Düse, groß", "16,5 g/s @ 100", "0.235"],
    ["", "second µ", "", "12"],
    ["PY-3", 'a "quoted" part; small', "1\u00a0000 g/s", "1.5"],
]


@pytest.mark.parametrize("name", ["pumps.xlsx", "pumps.ods", "pumps.csv", "pumps.xls"])
@pytest.mark.parametrize("write", [write_xlsx, write_ods])
def test_spreadsheets_read_equal_whatever_their_name(tmp_path: Path, name: str, write: Callable[[Path], None]) -> None:
    source = tmp_path / "source"
    write(source.with_suffix(".ods"))
    source.with_suffix(".ods").rename(tmp_path / name)
    book = read_workbook(tmp_path / name)
    assert book.kind == ("xlsx" if write is write_xlsx else "ods")
    (sheet,) = book.sheets
    assert (sheet.file, sheet.name, sheet.hidden, sheet.problems) == (name, "Fuel", False, ())
    assert texts(sheet) == EXPECTED
    assert [row.number for row in sheet.rows] == [1, 2, 3, 4, 5, 6]
    assert [cell.column for cell in sheet.rows[4].cells] == ["A", "B", "C", "D"]
    assert [cell.value for cell in sheet.rows[4].cells] == [None, "second µ", None, 12.0]
    assert doses(sheet) == pytest.approx([2.35e-7, 1.2e-5, 1.5e-6])


@pytest.mark.parametrize("encoding", ENCODABLE)
@pytest.mark.parametrize("delimiter", [";", "\t", "|", ","])
@pytest.mark.parametrize("decimal", [",", "."])
def test_text_tables_read_equal(tmp_path: Path, encoding: str, delimiter: str, decimal: str) -> None:
    path = tmp_path / "pumps.csv"
    path.write_bytes(csv_text(delimiter, decimal).encode(encoding))
    book = read_workbook(path)
    assert (book.kind, book.encoding, book.delimiter) == ("text", encoding, delimiter)
    (sheet,) = book.sheets
    decimals = [[*row[:-1], row[-1].replace(".", decimal)] if index > 2 else row for index, row in enumerate(EXPECTED)]
    assert texts(sheet) == decimals
    assert [row.number for row in sheet.rows] == [1, 2, 3, 4, 5, 6]
    assert doses(sheet) == pytest.approx([2.35e-7, 1.2e-5, 1.5e-6])


def test_decimal_commas_do_not_part_columns(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("no;flow\nPY-1;0,188\nPY-2;0,235\n")
    assert read_workbook(path).delimiter == ";"


def test_the_line_that_names_the_delimiter_is_no_row(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(b"sep=,\r\n1,5\r\n2,5\r\n")
    assert texts(read_workbook(path).sheets[0]) == [["1", "5"], ["2", "5"]]


def test_a_field_of_two_lines_is_one_row_as_in_the_spreadsheet(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text('no;note\nPY-1;"two\nlines"\nPY-2;one\n')
    assert [row.number for row in read_workbook(path).sheets[0].rows] == [1, 2, 3]
    assert read_workbook(path).sheets[0].rows[2].cells[0].text == "PY-2"


def test_one_column_is_a_table(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("no\nPY-1\n\nPY-2\n\n\n")
    assert texts(read_workbook(path).sheets[0]) == [["no"], ["PY-1"], [], ["PY-2"]]


@pytest.mark.parametrize("text", ["1,5\n2,7\n", "a;b,c\nd;e,f\ng;h,i\n"])
def test_doubtful_columns_are_asked_back_and_the_answer_is_taken(tmp_path: Path, text: str) -> None:
    path = tmp_path / "a.csv"
    path.write_text(text)
    with pytest.raises(UnreadableFile, match="name the sign that parts the columns"):
        read_workbook(path)
    assert len(read_workbook(path, delimiter=",").sheets[0].rows[0].cells) == 2


def test_types_hidden_sheets_and_what_the_reader_does_not_tell(tmp_path: Path) -> None:
    path = tmp_path / "types.xlsx"
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "A & B"
    sheet["B2"] = True
    sheet["B3"] = datetime.date(2024, 5, 12)
    sheet["B4"] = "=1+1"
    sheet["B5"] = "#REF!"
    sheet["B5"].data_type = "e"
    sheet["B6"] = 0.72
    sheet["B6"].number_format = "0.0%"
    sheet["B7"] = 0.72
    sheet["B7"].number_format = '0.0" %"'
    book.create_sheet("old").sheet_state = "hidden"
    book.save(path)
    read = read_workbook(path)
    first, second = read.sheets
    assert [row.cells[1].text if row.cells else "" for row in first.rows] == [
        "", "TRUE", "2024-05-12", "", "", "72 %", "0.72"
    ]  # fmt: skip
    assert first.rows[2].cells[1].value == datetime.date(2024, 5, 12)
    assert read_value(first.rows[5].cells[1].value, Quantity.RATIO, declared_unit="%").value == pytest.approx(0.72)
    assert [problem.where for problem in first.problems] == [
        "types.xlsx, sheet 'A & B', row 4, column 'B'",
        "types.xlsx, sheet 'A & B', row 5, column 'B'",
    ]
    assert "without a stored result" in first.problems[0].sentence
    assert "#REF!" in first.problems[1].sentence
    assert (second.name, second.hidden, second.rows) == ("old", True, ())


ODS_NAMES = (
    " ".join(f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"' for name in ("office", "table", "text"))
    + ' xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"'
)


def write_ods_rows(path: Path, rows: str) -> None:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        manifest = '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>'
        archive.writestr("META-INF/manifest.xml", manifest)
        archive.writestr(
            "content.xml",
            f"<office:document-content {ODS_NAMES}><office:body><office:spreadsheet>"
            f'<table:table table:name="A &amp; B">{rows}</table:table>'
            "</office:spreadsheet></office:body></office:document-content>",
        )


FILLED = '<table:table-cell office:value-type="float" office:value="1.5"><text:p>1.5</text:p></table:table-cell>'


def test_repeated_blank_cells_and_rows_keep_the_numbers_right(tmp_path: Path) -> None:
    path = tmp_path / "a.ods"
    write_ods_rows(
        path,
        f'<table:table-row>{FILLED}<table:table-cell table:number-columns-repeated="3"/>'
        '<table:table-cell office:value-type="percentage" office:value="0.72"><text:p>72 %</text:p></table:table-cell>'
        '<table:table-cell table:number-columns-repeated="16000"/></table:table-row>'
        '<table:table-row table:number-rows-repeated="8"><table:table-cell table:number-columns-repeated="9"/>'
        f"</table:table-row><table:table-row>{FILLED}"
        '<table:table-cell table:formula="of:=1/0" office:value-type="string" office:string-value=""'
        ' calcext:value-type="error"><text:p>#DIV/0!</text:p></table:table-cell></table:table-row>'
        '<table:table-row table:number-rows-repeated="1000000"><table:table-cell/></table:table-row>',
    )
    (sheet,) = read_workbook(path).sheets
    assert texts(sheet)[0] == ["1.5", "", "", "", "72 %"]
    assert (len(sheet.rows), texts(sheet)[9]) == (10, ["1.5"])
    assert [problem.where for problem in sheet.problems] == ["a.ods, sheet 'A & B', row 10, column 'B'"]
    assert "#DIV/0!" in sheet.problems[0].found


def stray_xlsx(path: Path) -> None:
    book = openpyxl.Workbook()
    book.active["A1"] = "x"
    book.active["XFD1048576"] = 1
    book.save(path)


def stray_ods(path: Path) -> None:
    many = FILLED.replace("<table:table-cell", '<table:table-cell table:number-columns-repeated="16384"')
    write_ods_rows(path, f'<table:table-row table:number-rows-repeated="1048576">{many}</table:table-row>')


def cut_short(path: Path) -> None:
    write_xlsx(path)
    path.write_bytes(path.read_bytes()[:-400])


def inner_damage(path: Path) -> None:
    buffer = io.BytesIO()
    write_xlsx(path)
    with zipfile.ZipFile(path) as source, zipfile.ZipFile(buffer, "w") as target:
        for name in source.namelist():
            content = source.read(name)
            target.writestr(name, content[: len(content) // 2] if name.endswith("sheet1.xml") else content)
    path.write_bytes(buffer.getvalue())


def open_tags(path: Path) -> None:
    write_ods_rows(path, f"<table:table-row>{FILLED}<table:table-cell>")


def no_spreadsheet(path: Path) -> None:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("word/document.xml", "<a/>")


def content(data: bytes) -> Callable[[Path], None]:
    def write(path: Path) -> None:
        path.write_bytes(data)

    return write


BAD: list[tuple[str, Callable[[Path], None], str]] = [
    ("empty", content(b""), "empty"),
    ("blank", content(b" \r\n \r\n"), "empty"),
    ("binary", content(bytes(range(256)) * 20), "no text and no spreadsheet"),
    ("undecodable", content(b"no;part\nPY-1;\x81\x8d\n"), "no text and no spreadsheet"),
    ("utf-16 without mark", content("no;part\r\n".encode("utf-16-le")), "no text and no spreadsheet"),
    ("odd utf-16", content(b"\xff\xfea\x00;"), "no text and no spreadsheet"),
    ("pdf", content(b"%PDF-1.7 ..."), "a PDF"),
    ("picture", content(b"\x89PNG\r\n\x1a\n"), "a picture"),
    ("web page", content(b"<html><table><tr><td>1</td></tr></table></html>"), "a web page"),
    ("open quotes", content(b'no;part\nPY-1;"open\n'), "do not pair"),
    ("cut short", cut_short, "damaged or cut short"),
    ("half a sheet", inner_damage, "damaged"),
    ("XML without its end", open_tags, "damaged"),
    ("empty archive", content(b"PK\x05\x06" + bytes(18)), "no XLSX or ODS"),
    ("other archive", no_spreadsheet, "no XLSX or ODS"),
    ("old format cut short", content(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600)), "damaged"),
    ("far stray cell", stray_xlsx, "far-off stray cells"),
    ("far repeated cells", stray_ods, "far-off stray cells"),
    ("too wide", content(b"x;" * 20_001 + b"\n"), "more than 20000 columns"),
]


@pytest.mark.parametrize(("write", "reason"), [bad[1:] for bad in BAD], ids=[bad[0] for bad in BAD])
@pytest.mark.parametrize("name", ["bad.xlsx", "bad.csv"])
def test_a_bad_file_gives_one_sentence(tmp_path: Path, name: str, write: Callable[[Path], None], reason: str) -> None:
    path = tmp_path / name
    write(path)
    with pytest.raises(UnreadableFile, match=reason) as caught:
        read_workbook(path)
    assert isinstance(caught.value, PinchpointError)
    assert str(caught.value).startswith(f"{name}: ")
    assert caught.value.remedy
    assert "\n" not in str(caught.value)


def test_missing_files_folders_and_sizes_are_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(UnreadableFile, match="no such file"):
        read_workbook(tmp_path / "none.xlsx")
    with pytest.raises(UnreadableFile, match="a folder"):
        read_workbook(tmp_path)
    path = tmp_path / "a.csv"
    path.write_text("a;b\n" * 100)
    monkeypatch.setattr(table, "MOST_CELLS", 150)
    with pytest.raises(UnreadableFile, match="more than 150 cells"):
        read_workbook(path)
    monkeypatch.setattr(table, "LARGEST_FILE", 100)
    with pytest.raises(UnreadableFile, match="MB is more than"):
        read_workbook(path)


def test_an_archive_that_unpacks_to_too_much_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.xlsx"
    write_xlsx(path)
    monkeypatch.setattr("ingest.archive.LARGEST_CONTENT", 1 << 10)
    with pytest.raises(UnreadableFile, match="unpacks to more than"):
        read_workbook(path)


def test_decorations_say_what_colour_and_hiding_say(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Fuel"
    sheet["A1"] = "gone"
    sheet["A1"].font = Font(strike=True)
    sheet["A2"] = "bad"
    sheet["A2"].fill = PatternFill("solid", fgColor="FFFF0000")
    sheet["A2"].comment = Comment("ask the maker", "shop")
    sheet["A3"] = "slot"
    sheet.merge_cells("A3:A5")
    sheet.row_dimensions[7].hidden = True
    sheet.column_dimensions["C"].hidden = True
    book.save(path)
    found = decorations(path)["Fuel"]
    assert found.struck == {"A1"}
    assert found.fills == {"A2": "FFFF0000"}
    assert found.comments == {"A2": "ask the maker"}
    assert found.merged == ("A3:A5",)
    assert (found.hidden_rows, found.hidden_columns) == ({7}, {"C"})
    text = tmp_path / "a.csv"
    text.write_text("a;b\n")
    assert decorations(text) == {}


def test_column_letters_agree_with_the_spreadsheet_library() -> None:
    for index in (0, 25, 26, 701, 702, 16383):
        assert column_letters(index) == openpyxl.utils.get_column_letter(index + 1)
