"""Paths that can name no file, through every command that takes one: a sentence and exit code 2, nothing written."""

from __future__ import annotations

import os
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from graph.store import open_database
from ui.cli import DEFECTS, USAGE, main, seed_folder
from ui.door import FilePath

WORDS = {"power": "250 kW", "boost": "1.9 bar", "format": "csv", "evidence": "own bench", "seen": "1"}
TRICKS = {
    "long name": "x" * 5000 + ".csv",
    "long path": "x/" * 3000 + "a.csv",
    "NUL": "de\0coy.csv",
    "bytes that are no text": "de\udcffcoy.csv",
    "empty": "",
    "blank": "  ",
}
TAKING = [
    (name, parameter.name)
    for name, command in sorted(main.commands.items())
    for parameter in command.params
    if isinstance(parameter.type, click.Path)
]


def run(folder: Path, *words: str) -> Result:
    return CliRunner().invoke(main, ["--db", f"sqlite:///{folder}/shop.sqlite", *words])


def call(command: click.Command, about: str, trick: str) -> list[str]:
    """Words of a command line in which one path is the trick and everything else is in order."""
    options: list[str] = []
    arguments: list[str] = []
    for parameter in command.params:
        value = trick if parameter.name == about else WORDS.get(str(parameter.name), "word")
        if isinstance(parameter.type, click.Choice) and parameter.name != about:
            value = parameter.type.choices[0]
        if isinstance(parameter, click.Argument):
            arguments.append(value)
        elif parameter.name == about or parameter.required:
            options += [parameter.opts[0], value]
    return [*options, "--", *arguments]


def test_the_commands_that_take_a_path_are_those_expected() -> None:
    """Reading and writing, sheets and logs, copies and pages: the door stands before all of them."""
    assert {name for name, _ in TAKING} >= {
        "load", "import", "export", "pull", "study", "backup", "recover", "explain", "look", "mapping",
    }  # fmt: skip
    for name, about in TAKING:
        parameter = next(p for p in main.commands[name].params if p.name == about)
        assert isinstance(parameter.type, FilePath), f"{name} {about}"


@pytest.mark.parametrize("trick", TRICKS)
@pytest.mark.parametrize(("name", "about"), TAKING)
def test_a_path_that_can_name_no_file_is_a_sentence(tmp_path: Path, name: str, about: str, trick: str) -> None:
    found = run(tmp_path, name, *call(main.commands[name], about, TRICKS[trick]))
    assert found.exit_code == USAGE, found.output
    assert isinstance(found.exception, SystemExit)
    assert "which" in found.stderr
    assert len(found.stderr) < 1000
    assert list(tmp_path.iterdir()) == []


def test_a_database_whose_address_holds_a_nul_is_a_sentence(tmp_path: Path) -> None:
    found = run(tmp_path, "--db", f"sqlite:///{tmp_path}/de\0coy.sqlite", "cars")
    assert found.exit_code == USAGE
    assert "no database address" in found.stderr


@pytest.mark.parametrize(
    "name",
    ["CON.csv", "\u202evsc.csv", "a\nb.csv", "a\\..\\b.csv", "ü" * 60 + ".csv", "-x.csv", "$(x).csv", "'\";.csv"],
)
def test_an_odd_name_that_may_be_is_read_and_stays_in_its_folder(tmp_path: Path, name: str) -> None:
    folder = tmp_path / "sheets"
    folder.mkdir()
    (folder / name).write_bytes((seed_folder() / "parts-exhaust.csv").read_bytes())
    found = run(tmp_path, "load", "--json", "--", str(folder / name))
    assert isinstance(found.exception, SystemExit) or found.exception is None
    with open_database(f"sqlite:///{tmp_path}/shop.sqlite").read() as view:
        assert [load["name"] for load in view.loads()] == [name]
        assert view.parts()
    assert {p.name.partition("-")[0] for p in tmp_path.iterdir()} <= {"sheets", "shop.sqlite"}


def test_a_file_in_a_folder_whose_name_is_no_text_is_held_and_named(tmp_path: Path) -> None:
    folder = tmp_path / "sheets"
    folder.mkdir()
    content = (seed_folder() / "parts-exhaust.csv").read_bytes()
    (folder / "good.csv").write_bytes(content)
    (folder / os.fsdecode(b"de\xffcoy.csv")).write_bytes(content)
    found = run(tmp_path, "load", str(folder))
    assert found.exit_code == DEFECTS
    assert "de\\udcffcoy.csv" in found.stderr
    assert "no text in UTF-8" in found.stderr
    with open_database(f"sqlite:///{tmp_path}/shop.sqlite").read() as view:
        assert [load["name"] for load in view.loads()] == ["good.csv"]


@pytest.mark.of_a_file
def test_the_path_of_a_file_is_an_address(tmp_path: Path) -> None:
    path = tmp_path / "our shop.sqlite"
    found = run(tmp_path, "--db", str(path), "cars")
    assert found.exit_code == 0, found.output
    assert path.read_bytes().startswith(b"SQLite format 3\0")  # sqlite.org, Database File Format, 1.3.1


def test_option_that_is_given_twice_is_refused_and_one_that_may_be_is_not(tmp_path: Path) -> None:
    """Of two values one would be lost without a word."""
    said = run(tmp_path, "plan", "car-a", "--power", "300 kW", "--keep", "turbine", "--keep", "tank pump")
    assert said.exit_code == USAGE
    assert "--keep is given 2 times; give it once, several values with commas between them" in said.output
    said = run(tmp_path, "learn", "car-a", "run.csv", "--then-boost", "1 bar", "--then-boost", "2 bar")
    assert "is given" not in said.output
    said = run(tmp_path, "check", "car-a", "--power", "300 kW", "--json", "--json")
    assert "is given" not in said.output
