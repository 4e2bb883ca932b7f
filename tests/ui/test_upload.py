"""Files with path tricks in their names, through the pages: each stays in its folder, none takes another's place."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from streamlit.testing.v1 import AppTest

from graph.store import open_database
from ingest.book import read_book, store_book
from ui import desk
from ui.cli import seed_folder
from ui.upload import LONGEST, safe_name, safe_names

UI = Path(__file__).resolve().parents[2] / "ui"
SHEET = (seed_folder() / "parts-exhaust.csv").read_bytes()
LOG = (seed_folder() / "logs" / "d1.csv").read_bytes()
PNG = b"\x89PNG\r\n\x1a\n" + b"0" * 64
#: What a name may try -> the name that it is given.
TRICKS = {
    "../../decoy.csv": "decoy.csv",
    "/etc/decoy.csv": "decoy.csv",
    "..\\..\\decoy.csv": "decoy.csv",
    "C:\\windows\\decoy.csv": "decoy.csv",
    "decoy.csv/": "decoy.csv",
    "a/../../decoy.csv": "decoy.csv",
    "de\0coy.csv": "decoy.csv",
    "de\ncoy\r.csv": "decoy.csv",
    "de\u202ecoy\u200f.csv": "decoy.csv",
    "de\u2066coy\u2069.csv": "decoy.csv",
    "decoy.csv . .": "decoy.csv",
    "de|co<y>?.csv": "decoy.csv",
    "decoy.csv:stream": "decoy.csvstream",
    "CON.csv": "file CON.csv",
    "nul.csv": "file nul.csv",
    "com1.x.csv": "file com1.x.csv",
    "LPT9": "file LPT9",
    "..": "file",
    ".": "file",
    "": "file",
    "\udc80.csv": "csv",
}


@pytest.mark.parametrize(("name", "safe"), TRICKS.items(), ids=[ascii(name) for name in TRICKS])
def test_a_name_with_a_trick_in_it_is_a_plain_one(name: str, safe: str) -> None:
    assert safe_name(name) == safe


@given(st.lists(st.text(max_size=400), max_size=6))
def test_any_names_stay_in_their_folder_apart_and_short(names: list[str]) -> None:
    safe = safe_names(names)
    folder = Path("/some/folder")
    assert len({name.lower() for name in safe}) == len(names)
    for name in safe:
        assert (folder / name).parent == folder
        assert (folder / name).resolve().parent == folder.resolve()
        assert name.isprintable() or any(letter.isspace() for letter in name)
        assert "\0" not in name
        assert 0 < len(name.encode()) <= LONGEST + len(" (999)")


def test_an_ordinary_name_is_kept_as_it_is() -> None:
    """A name that a shop would give, in its own letters, is what its evidence will say."""
    for name in ("parts.xlsx", "Teile 2026-03 (Düsen).ods", "pièces.csv", "部品.xlsx", "pull 3.csv"):
        assert safe_name(name) == name


@pytest.fixture
def url(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    url = f"sqlite:///{tmp_path}/shop.sqlite"
    database = open_database(url)
    store_book(database, read_book([seed_folder()]), who="shop", version="0")
    database.engine.dispose()
    monkeypatch.setenv(desk.DATABASE, url)
    yield url
    desk._database.clear()


def words(test: AppTest) -> str:
    return "\n".join(element.proto.body for element in test.get("html"))


def page(name: str, **asked: str) -> AppTest:
    test = AppTest.from_file(str(UI / f"page_{name}.py"), default_timeout=120)
    for key, value in asked.items():
        test.query_params[key] = value
    test.run()
    assert not test.exception
    return test


PAGE_TRICKS = [  # a NUL is refused before any page sees it
    "../../decoy.csv",
    "/decoy.csv",
    "de\ncoy.csv",
    "é" * 400 + ".csv",
    "\u202edecoy.csv",
    "NUL.csv",
    "a\\..\\b.csv",
]


@pytest.mark.parametrize("name", PAGE_TRICKS, ids=[ascii(name)[:24] for name in PAGE_TRICKS])
def test_a_sheet_with_a_trick_in_its_name_is_read_like_any_other(url: str, tmp_path: Path, name: str) -> None:
    test = page("parts")
    test.file_uploader(key="sheets").set_value((name, SHEET, "text/csv")).run()
    assert not test.exception
    assert any("rows can be loaded" in element.value for element in test.subheader)
    assert safe_name(name) in words(test)
    assert not list(tmp_path.rglob("*decoy*"))


def test_two_sheets_of_one_name_are_both_read(url: str) -> None:
    other = SHEET.replace(b"PY-", b"QX-")
    assert other != SHEET
    test = page("parts")
    test.file_uploader(key="sheets").set_value(
        [("a/parts.csv", SHEET, "text/csv"), ("b/parts.csv", other, "text/csv")]
    ).run()
    assert not test.exception
    said = words(test)
    assert "parts.csv" in said
    assert "parts (2).csv" in said


@pytest.mark.parametrize("name", PAGE_TRICKS[:4], ids=[ascii(name)[:24] for name in PAGE_TRICKS[:4]])
def test_a_log_with_a_trick_in_its_name_is_read_like_any_other(url: str, name: str) -> None:
    test = page("dyno", car="car-a")
    test.file_uploader(key="log").set_value((name, LOG, "text/csv")).run()
    assert not test.exception
    assert "No pull yet" not in words(test) + "".join(t.value for t in test.title)


def test_a_photograph_is_kept_under_its_digest_whatever_its_name(
    url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from ui import arrival_record

    monkeypatch.setattr(arrival_record, "photo_folder", lambda _: tmp_path / "photos")
    for name in (
        "../../decoy.png",
        "/etc/decoy.png",
        "de\0coy.png",
        "x" * 5000 + ".png",
        "\u202egnp.exe.png",
        "..",
        "NUL.png",
    ):
        photo = arrival_record._kept(name, PNG)
        assert photo.name == safe_name(name)
        assert Path(photo.path).parent == tmp_path / "photos"
        assert Path(photo.path).stem == photo.sha256
    assert len(list((tmp_path / "photos").iterdir())) == 1
