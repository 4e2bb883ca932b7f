"""Two people with the same part's page open: the second hears what the first changed, and overwrites nothing."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from graph.store import open_database, revisions
from ingest.book import read_book, store_book
from ui import desk
from ui.cli import seed_folder

PAGE = Path(__file__).resolve().parents[2] / "ui" / "page_parts.py"


@pytest.fixture
def url(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    url = f"sqlite:///{tmp_path}/shop.sqlite"
    database = open_database(url)
    store_book(database, read_book([seed_folder()]), who="shop", version="0")
    database.engine.dispose()
    monkeypatch.setenv(desk.DATABASE, url)
    yield url
    desk._database.clear()


def opened() -> AppTest:
    test = AppTest.from_file(str(PAGE), default_timeout=60)
    test.query_params["part"] = "PY-1110"
    test.run()
    assert not test.exception
    return test


def fill(test: AppTest, value: str) -> AppTest:
    test.selectbox(key="correct_rating_of").set_value("flow")
    test.text_input(key="correct_rating").set_value(value)
    test.text_input(key="correct_condition").set_value("5.5 bar, 13.5 V")
    test.selectbox(key="correct_evidence").set_value("own bench")
    next(button for button in test.button if button.label.startswith("Correct revision")).click()
    test.run()
    assert not test.exception
    return test


def words(test: AppTest) -> str:
    return "\n".join(element.proto.body for element in test.get("html"))


def stands(url: str) -> list[str]:
    database = open_database(url)
    with database.read() as view:
        found = [r.part.ratings[0].text for r in revisions(view, "PY-1110")]
    database.engine.dispose()
    return found


def test_the_second_hears_what_the_first_changed(url: str) -> None:
    anna, ben = opened(), opened()
    before = stands(url)
    assert "flow is now 230 l/h" in words(fill(anna, "230 l/h"))
    said = words(fill(ben, "250 l/h"))
    assert "230 l/h" in said
    assert "nothing was overwritten" in said
    # the shop's units: 5.5 bar are 550 000 Pa
    assert "pressure 5.5 bar" in said
    assert "voltage 13.5 V" in said
    assert "550000" not in said
    assert stands(url) == [*before, "230 l/h at 5.5 bar, 13.5 V"]
    assert "flow is now 250 l/h" in words(fill(ben, "250 l/h"))  # having seen it, he may


def test_what_cannot_be_read_is_said_and_nothing_changes(url: str) -> None:
    before = stands(url)
    assert "unit" in words(fill(opened(), "230"))
    assert stands(url) == before
