"""The mapping of columns: shown before it is used, remembered with the load, and widened by the shop's own words."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from ui.cli import main

ROWS = (
    "No.;Part;Slot;Fits;Rating of;Durchsatz (L/h);Condition;Evidence;Shelf\n"
    "T-1;pump;tank pump;C1;flow;240;pressure 5.5 bar;own bench;3\n"
)
WORDS = '[header.parts]\nrating = ["Durchsatz"]\nstock = ["Shelf"]\n'


@pytest.fixture
def shop(tmp_path: Path):
    (tmp_path / "pumps.csv").write_text(ROWS, encoding="utf-8")
    (tmp_path / "words.toml").write_text(WORDS, encoding="utf-8")

    def run(*arguments: str, code: int = 0):
        done = CliRunner().invoke(main, ["--db", f"sqlite:///{tmp_path}/shop.sqlite", *arguments])
        assert done.exit_code == code, done.output
        return done.output

    run.folder = tmp_path  # type: ignore[attr-defined]
    return run


def _columns(shop, *more: str) -> dict[str, tuple[str | None, str | None]]:
    said = json.loads(shop("mapping", str(shop.folder / "pumps.csv"), "--json", *more))
    return {c["head"]: (c["field"], c["unit"]) for c in said["files"][0]["columns"]}


def test_headers_of_nobody_are_named_as_not_read(shop) -> None:
    columns = _columns(shop)
    assert columns["No."] == ("number", None)
    assert columns["Durchsatz (L/h)"] == columns["Shelf"] == (None, None)


def test_the_shops_own_words_widen_the_mapping(shop) -> None:
    columns = _columns(shop, "--words", str(shop.folder / "words.toml"))
    assert columns["Durchsatz (L/h)"] == ("rating", "L/h")
    assert columns["Shelf"] == ("stock", None)


def test_nothing_is_loaded_by_looking(shop) -> None:
    shop("mapping", str(shop.folder / "pumps.csv"))
    assert json.loads(shop("loads", "--json"))["loads"] == []


def test_a_file_is_known_again_and_a_changed_header_is_named(shop) -> None:
    file, words = shop.folder / "pumps.csv", ("--words", str(shop.folder / "words.toml"))
    assert "not loaded before" in shop("mapping", str(file), *words)
    shop("load", str(file), *words)
    assert "as loaded last" in shop("mapping", str(file), *words)
    file.write_text(ROWS.replace("Shelf", "Labour h"), encoding="utf-8")
    said = shop("mapping", str(file), *words)
    assert "differs from the last load" in said
    assert "! I1 Labour h: new, parts: labour [h]" in said
    assert "! I1 Shelf: gone, was parts: stock" in said
