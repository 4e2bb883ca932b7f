"""The book and its keeper in a real browser: a defect named, mended and loaded, one rating corrected, the trail of it."""

from __future__ import annotations

import re
from pathlib import Path

import openpyxl
from page_server import Watch, hand_over, picture, settle, unfold
from playwright.sync_api import Page, expect

SEED = Path(__file__).resolve().parents[2] / "seed_parts"
#: The first load of the journey holds this sheet as it is, the second with another unit that is none.
SHEET = "parts-exhaust.csv"


def bring(page: Page, name: str, content: bytes) -> None:
    """Hand a sheet to the page."""
    hand_over(page, {"name": name, "mimeType": "application/octet-stream", "buffer": content})


def test_book_with_a_defect_is_named_mended_and_loaded(walk: Page, own: str, tmp_path: Path):
    watch = Watch(walk, own)
    good = (SEED / SHEET).read_text(encoding="utf-8")
    bad = good.replace(";mm²;", ";parsec;")
    assert bad != good
    walk.goto(f"{own}/parts")
    bring(walk, SHEET, bad.encode())
    expect(walk.get_by_role("heading", name=re.compile(r"[1-9]\d* defects"))).to_be_visible()
    expect(walk.get_by_text("parsec").first).to_be_visible()
    walk.get_by_text(f"{SHEET}: what its 19 columns are taken for").click()  # the header line of the sheet
    expect(walk.get_by_role("cell", name="parts: rating", exact=True)).to_be_visible()
    settle(walk)
    picture(walk, "book with a defect")
    with walk.expect_download() as fetched:
        walk.get_by_role("button", name="Annotated copy").click()
    fetched.value.save_as(tmp_path / "annotated.xlsx")
    walk.goto(f"{own}/parts")  # the annotated copy, mended where its comment stands, comes back
    bring(walk, "annotated.xlsx", mended(tmp_path / "annotated.xlsx"))
    expect(walk.get_by_role("heading", name=re.compile(r" 0 held, 0 defects"))).to_be_visible()
    walk.get_by_role("button", name=re.compile(r"Load \d+ rows?")).click()
    expect(walk.get_by_text(re.compile(r"rows loaded, 0 held"))).to_be_visible()
    unfold(walk, "What changed between two loads", walk.get_by_text("Compare", exact=True))
    walk.get_by_text("Compare", exact=True).click()
    expect(walk.get_by_text(re.compile(r"parts are new, [1-9]\d* differ"))).to_be_visible()
    settle(walk)
    picture(walk, "book between two loads")
    watch.quiet()


def mended(path: Path) -> bytes:
    """The annotated copy with the unit written right in every cell that bears a comment, and one rating changed."""
    book = openpyxl.load_workbook(path)
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    wrong = [cell for cell in cells if cell.comment and cell.value == "parsec"]
    assert wrong
    for cell in wrong:
        cell.value, cell.comment = "mm²", None
    for cell in cells:
        if str(cell.value).replace(",", ".") == "2.6":  # the stiff actuator's pressure, in bar
            cell.value = 2.7
    book.save(path)
    return path.read_bytes()


def test_one_rating_is_corrected_with_its_evidence_and_the_trail_says_so(walk: Page, own: str, tmp_path: Path):
    watch = Watch(walk, own)
    walk.goto(f"{own}/parts")
    walk.get_by_text("Blank sheets to fill in").click()
    with walk.expect_download() as fetched:
        walk.get_by_role("button", name="Blank sheet").click()
    fetched.value.save_as(tmp_path / "blank.xlsx")
    assert "Parts" in openpyxl.load_workbook(tmp_path / "blank.xlsx").sheetnames
    walk.get_by_role("textbox", name="Find").fill("Vundle 240")
    walk.get_by_role("textbox", name="Find").press("Enter")
    expect(walk.get_by_role("link", name=re.compile("^PY-"))).to_have_count(1)
    walk.get_by_role("link", name="PY-1110").click()
    expect(walk.get_by_role("heading", name="PY-1110, Vundle 240 tank pump")).to_be_visible()
    unfold(walk, "Correct a rating", walk.get_by_role("textbox", name="value with unit"))
    walk.get_by_role("textbox", name="value with unit").fill("230 l/h")
    walk.get_by_role("textbox", name="holds at").fill("5.5 bar, 13.5 V, 20 °C, petrol")
    walk.get_by_role("textbox", name="found on").fill("2026-03-02")
    settle(walk)
    walk.get_by_role("button", name="Correct revision 1").click()
    expect(walk.get_by_text("revision 2", exact=False).first).to_be_visible()
    expect(walk.get_by_role("heading", name="Earlier statements of flow")).to_be_visible()
    settle(walk)
    picture(walk, "rating corrected")
    walk.get_by_role("link", name="settings", exact=True).click()
    walk.get_by_role("link", name="What was done").click()
    expect(walk.get_by_role("cell", name="PY-1110").first).to_be_visible()
    walk.get_by_role("button", name="Check that nothing was changed").click()
    expect(walk.get_by_text("The trail is whole")).to_be_visible()
    settle(walk)
    picture(walk, "trail")
    watch.quiet()


def test_somebody_is_let_in_on_the_page(walk: Page, own: str):
    watch = Watch(walk, own)
    walk.goto(f"{own}/people")
    expect(walk.get_by_role("heading", name="Nobody has a role yet")).to_be_visible()
    walk.get_by_role("textbox", name="Mail address").fill("anna@shop.example")
    walk.get_by_role("combobox", name="may").click()
    walk.get_by_role("option", name="keep the book").click()
    walk.keyboard.press("Escape")
    walk.get_by_role("button", name="Keep", exact=True).click()
    expect(walk.get_by_text("anna@shop.example may now:")).to_be_visible()
    expect(walk.get_by_role("heading", name="One person has a role")).to_be_visible()
    settle(walk)
    picture(walk, "people")
    watch.quiet()
