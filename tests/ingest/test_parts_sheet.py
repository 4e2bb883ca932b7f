"""The parts book written as sheets. What is read back is compared with what the demo's own sheets say."""

import csv
import io
import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
from rdflib.namespace import CSVW

from graph.model import Evidence, EvidenceKind, Meaning, Part, Rating, Relation, RelationKind
from ingest.book import read_book
from ingest.parts_columns import HEADER, metadata
from ingest.parts_sheet import harmless, write_text, write_workbook

SEED = Path(__file__).resolve().parents[2] / "seed_parts"
WRITE = {"csv": write_text, "xlsx": write_workbook}


def said(part: Part) -> Part:
    """A part without the places and spellings of its sheet."""
    ratings = tuple(replace(r, text="", evidence=replace(r.evidence, source="")) for r in part.ratings)
    return replace(part, source="", ratings=ratings)


def written(form, parts, folder: Path):
    folder.mkdir(exist_ok=True)
    path = folder / f"book.{form}"
    WRITE[form](parts, path)
    shutil.copy(SEED / "platform.xlsx", folder)
    return path, read_book([folder])


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_every_part_comes_back_to_the_last_digit(form, demo_book, tmp_path) -> None:
    _, again = written(form, demo_book.parts, tmp_path / form)
    assert [p.sentence for p in again.problems] == []
    assert {p.id: said(p) for p in again.parts} == {p.id: said(p) for p in demo_book.parts}


def test_header_is_that_of_the_demo_sheets(demo_book, tmp_path) -> None:
    path, _ = written("csv", demo_book.parts, tmp_path / "x")
    first = (SEED / "parts-exhaust.csv").read_text(encoding="utf-8-sig").splitlines()[0]
    assert next(csv.reader(io.StringIO(path.read_text(encoding="utf-8")))) == first.split(";") == list(HEADER)
    book = openpyxl.load_workbook(SEED / "parts.xlsx")
    assert [c.value for c in book["Air"][1]] == list(HEADER)


EVIDENCE = Evidence(kind=EvidenceKind.SHOP_EXPERIENCE, source="", detail="told by a colleague", by="W. Riedl")
ODD = Part(
    id="PY-9000",
    kind="tank_pump",
    name="=HYPERLINK(1)",
    maker="@maker",
    fits=("HM20-D4", "HM6"),
    note='+cmd|" /C calc"!A0',
    ratings=(Rating(name="flow", value=1.0 / 3.0e4, spread=1.0 / 30.0, meaning=Meaning.GUARANTEED, evidence=EVIDENCE),),
    relations=(Relation(kind=RelationKind.REQUIRES, slot="pump_controller", rating="current", at_least=16.0),),
    tasks=("lobe check",),
    price=0.1,
    labour=1000.0,
    lead_time=1e5,
    stock=0,
)


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_odd_numbers_persons_and_words_come_back(form, demo_book, tmp_path) -> None:
    plain = replace(ODD, name="pump", note="note", maker="maker")
    _, again = written(form, [*demo_book.parts, plain], tmp_path / form)
    assert again.problems == []
    part = next(p for p in again.parts if p.id == "PY-9000")
    rating = part.ratings[0]
    assert rating.value == pytest.approx(ODD.ratings[0].value, rel=4e-16)  # no number of L/h is nearer to 1/30000 m3/s
    assert rating.spread == pytest.approx(ODD.ratings[0].spread, rel=1e-15)
    assert (rating.meaning, rating.evidence.kind, rating.evidence.by) == (Meaning.GUARANTEED, EVIDENCE.kind, "W. Riedl")
    assert (part.price, part.stock) == (0.1, 0)
    assert (part.labour, part.lead_time) == pytest.approx((1000.0, 1e5), rel=1e-15)  # a workbook keeps 16 digits
    assert (part.maker, part.fits, part.tasks) == ("maker", ODD.fits, ODD.tasks)
    assert replace(part.relations[0], text="") == ODD.relations[0]


def test_no_cell_of_a_csv_file_begins_like_a_formula(tmp_path) -> None:
    # characters of the OWASP page on CSV injection
    write_text([ODD], tmp_path / "odd.csv")
    rows = list(csv.DictReader(io.StringIO((tmp_path / "odd.csv").read_text(encoding="utf-8"))))
    assert not [cell for row in rows for cell in row.values() if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]
    assert rows[0]["Part"] == "'=HYPERLINK(1)"


def test_no_cell_of_a_workbook_is_a_formula(tmp_path) -> None:
    write_workbook([ODD], tmp_path / "odd.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "odd.xlsx")["Fuel"]
    assert [c.coordinate for row in sheet for c in row if c.data_type == "f"] == []
    assert sheet["B2"].value == "=HYPERLINK(1)"
    assert sheet["B2"].quotePrefix


@pytest.mark.parametrize(
    ("cell", "text"),
    [(None, ""), ("a", "a"), ("-1", "'-1"), (-1.5, "-1.5"), (3, "3"), (1.234, "1.2340"), ("\t=1", "'\t=1")],
)
def test_harmless_cells(cell, text) -> None:
    assert harmless(cell) == text


def test_text_file_follows_rfc_4180(demo_book, tmp_path) -> None:
    write_text([replace(ODD, note='a, "b"\nc')], tmp_path / "x.csv")
    content = (tmp_path / "x.csv").read_bytes().decode("utf-8")
    assert content.count("\r\n") == len(re.findall(r"\r", content)) == 2  # rule 1: each record on a line, CRLF
    assert '"a, ""b""\nc"' in content  # rules 6 and 7: enclosed, quotes doubled
    rows = list(csv.reader(io.StringIO(content, newline=""), strict=True))
    assert {len(row) for row in rows} == {len(rows[0])}  # rule 4: the same number of fields


def test_description_beside_the_text_file_names_its_columns(demo_book, tmp_path) -> None:
    beside = write_text(demo_book.parts, tmp_path / "book.csv")
    assert beside.name == "book.csv-metadata.json"  # W3C, Model for Tabular Data, section 5.3
    said = json.loads(beside.read_text(encoding="utf-8"))
    assert said["@context"] == str(CSVW).rstrip("#")
    assert said["url"] == "book.csv"
    columns = said["tableSchema"]["columns"]
    assert [c["titles"] for c in columns] == list(HEADER)
    names = [c["name"] for c in columns]
    assert len(set(names)) == len(names)
    assert all(re.fullmatch(r"[a-z][a-z0-9_]*", name) for name in names)


def test_terms_of_the_description_are_declared() -> None:
    # "columns" and "titles" are the JSON forms of the terms column and title
    said = metadata("x.csv", HEADER)
    used = {*said, *said["dialect"], *said["tableSchema"], *(k for c in said["tableSchema"]["columns"] for k in c)}
    plural = {"columns": "column", "titles": "title"}
    own = {plural.get(k, k) for k in used if not k.startswith(("@", "dc:"))}
    assert own <= set(CSVW.__annotations__)


def test_numbers_of_the_text_file_are_of_the_declared_type(demo_book, tmp_path) -> None:
    beside = write_text(demo_book.parts, tmp_path / "book.csv")
    columns = json.loads(beside.read_text(encoding="utf-8"))["tableSchema"]["columns"]
    check = {"double": float, "integer": int, "string": str, "date": lambda t: re.fullmatch(r"\d{4}-\d\d-\d\d", t)[0]}
    rows = list(csv.DictReader(io.StringIO((tmp_path / "book.csv").read_text(encoding="utf-8"))))
    for column in columns:
        for row in rows:
            if row[column["titles"]]:
                check[column["datatype"]](row[column["titles"]])
