"""Two people at cars, roles and the shop's settings through commands and pages: the second overwrites nothing unseen."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner, Result
from streamlit.testing.v1 import AppTest

from graph.errors import Conflict
from graph.store import open_database
from ingest.book import read_book, store_book
from ui import desk
from ui.cli import DONE, UNFORESEEN, USAGE, main, seed_folder
from ui.shop_settings import ShopSettings, read_shop, state_of, write_shop

UI = Path(__file__).resolve().parents[2] / "ui"
SHOP = ShopSettings(name="Demo", hourly_rate=90.0)


@pytest.fixture
def url(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    url = f"sqlite:///{tmp_path}/shop.sqlite"
    database = open_database(url)
    store_book(database, read_book([seed_folder()]), who="shop", version="0")
    database.engine.dispose()
    monkeypatch.setenv(desk.DATABASE, url)
    yield url
    desk._database.clear()


def run(url: str, *words: str) -> Result:
    return CliRunner().invoke(main, ["--db", url, *words])


def cars_as(name: str) -> bytes:
    """The demo's sheet of cars, in which car A has another name."""
    book = openpyxl.load_workbook(seed_folder() / "cars.xlsx")
    row = next(row for row in book["car-a"].iter_rows() if row[0].value == "name")
    row[1].value = name
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def named(url: str) -> str:
    found = json.loads(run(url, "cars", "--json").stdout)["cars"]
    return str(next(car["name"] for car in found if car["id"] == "car-a"))


def newest_load(url: str) -> int:
    loads = json.loads(run(url, "loads", "--json").stdout)["loads"]
    return max(int(load["load"]) for load in loads)


def words(test: AppTest) -> str:
    return "\n".join(element.proto.body for element in test.get("html"))


def page(name: str) -> AppTest:
    test = AppTest.from_file(str(UI / f"page_{name}.py"), default_timeout=60).run()
    assert not test.exception
    return test


def test_a_car_sheet_taken_in_hand_before_a_colleague_wrote_is_refused(url: str, tmp_path: Path) -> None:
    seen = newest_load(url)
    hers, his = tmp_path / "anna.xlsx", tmp_path / "ben.xlsx"
    hers.write_bytes(cars_as("Car A, as Anna knows it"))
    his.write_bytes(cars_as("Car A, as Ben knows it"))
    assert run(url, "load", str(hers), "--seen", str(seen)).exit_code == DONE
    refused = run(url, "load", str(his), "--seen", str(seen))
    assert refused.exit_code == UNFORESEEN
    assert "car-a" in refused.stderr
    assert "nothing was overwritten" in refused.stderr
    assert named(url) == "Car A, as Anna knows it"
    assert run(url, "load", str(his), "--seen", str(newest_load(url))).exit_code == DONE
    assert named(url) == "Car A, as Ben knows it"


def test_sheets_shown_on_a_page_before_a_colleague_wrote_are_refused(url: str, tmp_path: Path) -> None:
    test = page("parts")
    sheet = test.file_uploader(key="sheets")
    sheet.upload("cars.xlsx", cars_as("Car A, as Ben knows it")).run()
    hers = tmp_path / "anna.xlsx"
    hers.write_bytes(cars_as("Car A, as Anna knows it"))
    assert run(url, "load", str(hers)).exit_code == DONE
    test.button(key="store").click().run()
    assert not test.exception
    assert "car-a" in words(test)
    assert "nothing was overwritten" in words(test)
    assert named(url) == "Car A, as Anna knows it"
    again = page("parts")
    again.file_uploader(key="sheets").upload("cars.xlsx", cars_as("Car A, as Ben knows it")).run()
    again.button(key="store").click().run()
    assert named(url) == "Car A, as Ben knows it"


def test_roles_are_replaced_only_by_somebody_who_names_them(url: str) -> None:
    assert run(url, "grant", "anna@shop.example", "advise").exit_code == DONE
    refused = run(url, "grant", "anna@shop.example", "keep the book")
    assert refused.exit_code == UNFORESEEN
    assert "--seen 'look, advise'" in refused.stderr
    assert run(url, "grant", "anna@shop.example", "keep the book", "--seen", "look, advise").exit_code == DONE
    assert run(url, "grant", "anna@shop.example", "look", "--seen", "everything").exit_code == USAGE
    assert run(url, "grant", "anna@shop.example").exit_code == DONE


def test_settings_changed_since_they_were_read_stay(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    write_shop(file, SHOP, seen=state_of(file))
    seen = state_of(file)
    write_shop(file, replace(SHOP, hourly_rate=100.0), seen=seen)
    with pytest.raises(Conflict, match="nothing was overwritten"):
        write_shop(file, replace(SHOP, tax=0.25), seen=seen)
    assert read_shop(file).hourly_rate == 100.0
    assert [p.name for p in tmp_path.iterdir()] == ["shop.toml"]


def test_two_people_with_the_page_of_settings_open(url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "kept" / "shop.toml"
    monkeypatch.setenv(desk.SHOP, str(file))
    anna, ben = page("settings"), page("settings")

    def keep(test: AppTest, name: str) -> str:
        test.text_input(key="shop name").set_value(name)
        next(button for button in test.button if button.label == "Keep").click()
        test.run()
        assert not test.exception
        return words(test)

    assert "Kept." in keep(anna, "Anna's workshop")
    assert "nothing was overwritten" in keep(ben, "Ben's workshop")
    assert read_shop(file).name == "Anna's workshop"
    assert "Kept." in keep(ben, "Ben's workshop")  # having seen that somebody changed them, he may
    assert read_shop(file).name == "Ben's workshop"


@pytest.mark.parametrize("command", ["study", "grant", "correct", "backup", "ask"])
def test_the_program_started_by_its_module_has_the_same_commands(command: str) -> None:
    """Making a command twice would take its options from it the second time."""
    told = subprocess.run(
        [sys.executable, "-W", "error", "-m", "ui.cli", command, "--help"],
        capture_output=True,
        text=True,
        timeout=120,
        cwd=UI.parent,
    )
    assert told.stderr == ""
    usual = CliRunner().invoke(main, [command, "--help"], prog_name="python -m ui.cli").stdout
    assert told.stdout.split() == usual.split()
    assert "--db URL" in usual
