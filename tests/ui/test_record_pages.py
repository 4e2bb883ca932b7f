"""What the arrival page and the dyno page keep, without a browser, on a shop of their own."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from graph.model import Belief
from graph.store import open_database
from ingest.book import store_book
from ui import desk

ROOT = Path(__file__).resolve().parents[2]
D1 = ROOT / "seed_parts" / "logs" / "d1.csv"
PATIENCE = 90


@pytest.fixture
def database(tmp_path: Path, demo_book):
    found = open_database(f"sqlite:///{tmp_path}/shop.sqlite")
    store_book(found, demo_book, who="tests", version="0")
    return found


@pytest.fixture
def open_page(database, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., AppTest]]:
    def opened(name: str) -> AppTest:
        monkeypatch.setenv(desk.DATABASE, database.engine.url.render_as_string(hide_password=False))
        test = AppTest.from_file(str(ROOT / "ui" / f"page_{name}.py"), default_timeout=PATIENCE)
        test.query_params["car"] = "car-b"
        return test.run()

    yield opened
    desk._database.clear()


def words(test: AppTest) -> str:
    plain = [e.value for kind in ("title", "header", "subheader") for e in test.get(kind)]
    return "\n".join([*plain, *(e.proto.body for e in test.get("html"))])


def press(test: AppTest, label: str) -> AppTest:
    next(b for b in test.button if b.label.startswith(label)).click().run()
    assert not test.exception
    return test


def rows(test: AppTest, head: str) -> str:
    """The table under a heading, as markup."""
    said = [e.proto.body for e in test.get("html")]
    return next(t for t in said if f">{head}<" in t)


def test_three_looks_recorded_on_the_page_move_suspects_beliefs_and_looks(open_page, database) -> None:
    test = open_page("arrival")
    before = words(test)
    assert "Was it fitted right?" in before
    test.multiselect(key="present").set_value(["oil-level-up", "rail-decays", "pump-seat-bad"])
    test.multiselect(key="done").set_value(["rail-decay", "pump-removal"]).run()
    press(test, "Keep what is said above (5)")
    for slot, belief, part, condition in (
        ("high-pressure pump", "label read", "PY-1115", "seal cut"),
        ("rods", "label read", "PY-4013", "no marks"),
    ):
        test.selectbox(key="look slot").set_value(slot).run()
        test.selectbox(key="look belief").set_value(belief)
        test.selectbox(key="look part").set_value(part)
        test.text_input(key="look condition").set_value(condition)
        test.text_input(key="look by").set_value("Tec")
        press(test, "Keep this look")
    fresh = open_page("arrival")  # nothing selected: all of it comes from the record
    said = words(fresh)
    assert "high-pressure pump badly seated" in rows(fresh, "suspect").split("</tr>")[1]  # first row of the suspects
    assert "watch the rail pressure after stopping" not in rows(fresh, "look")
    assert "seal cut" in said
    assert "◉ label read" in said
    with database.read() as view:
        looks = view.looks("car-b")
        assert [(x.slot, x.belief, x.by) for x in looks] == [
            ("high-pressure pump", Belief.LABEL_READ, "Tec"),
            ("rods", Belief.LABEL_READ, "Tec"),
        ]
        assert len(view.facts("car-b")) == 5


def test_a_measurement_without_its_instrument_is_refused_on_the_page(open_page, database) -> None:
    test = open_page("arrival")
    test.selectbox(key="look slot").set_value("plugs").run()
    test.selectbox(key="look belief").set_value("measured")
    press(test, "Keep this look")
    assert "name the instrument" in words(test) + "".join(e.value for e in test.error)
    with database.read() as view:
        assert view.looks() == ()


def test_facts_and_changes_of_the_plan_are_kept_on_the_page(open_page) -> None:
    test = open_page("arrival")
    test.selectbox(key="fact key").set_value("codes")
    test.text_input(key="fact text").set_value("one code stored")
    press(test, "Keep this fact")
    test.selectbox(key="change slot").set_value("plugs")
    test.text_input(key="change finding").set_value("gap 0.95 mm")
    test.number_input(key="change price").set_value(64.5)
    press(test, "Keep this change")
    said = words(test)
    assert "one code stored" in said
    assert "gap 0.95 mm" in said
    assert "+64.50 open" in said


def test_dyno_page_compares_and_keeps_what_a_pull_shows(open_page, database) -> None:
    test = open_page("dyno")
    content = D1.read_bytes()
    test.file_uploader(key="before").upload("before.csv", content)
    test.file_uploader(key="log").upload("d1.csv", content).run()
    assert not test.exception
    said = words(test)
    assert "is not a gain" in said.replace("\u00a0", " ")
    assert "not reached" in said
    assert "only claimed" in said
    press(test, "Keep what this pull shows of the limits")
    assert "Kept beside the ratings of the book" in words(test)
    with database.read() as view:
        assert {t.slot for t in view.trials()} >= {"high-pressure pump", "clutch"}
