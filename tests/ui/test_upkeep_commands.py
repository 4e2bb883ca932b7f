"""Upkeep from the command line: copies, roles, corrections, the trail, licences; no password comes out."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from graph.store import open_database
from ingest.book import read_book, store_book
from ui.cli import main, seed_folder
from ui.dependency import dependencies

ROOT = Path(__file__).resolve().parents[2]
DONE, UNFORESEEN, USAGE, DEFECTS = 0, 1, 2, 4
#: Licences that ask for no more than notice: the OSI's list of permissive ones, with the names that makers use for them.
PERMISSIVE = re.compile(
    r"(MIT|MIT License|MIT-0|MIT-CMU|BSD|BSD License|0BSD|[23]-Clause BSD License|BSD-[23]-Clause|Apache-2\.0"
    r"|Apache Software License|Apache License 2\.0|ISC|Zlib|CC0-1\.0|PSF-2\.0|Unlicense)"
)
#: Weak copyleft, used unchanged as libraries: the driver of PostgreSQL, and the list of certificate authorities.
UNCHANGED = {"psycopg": "LGPL-3.0", "psycopg-binary": "LGPL-3.0", "certifi": "Mozilla Public License 2.0"}


@pytest.fixture
def url(tmp_path: Path) -> str:
    url = f"sqlite:///{tmp_path}/shop.sqlite"
    database = open_database(url)
    store_book(database, read_book([seed_folder() / "parts-fuel.ods"]), who="shop", version="0")
    database.engine.dispose()
    return url


def run(url: str, *arguments: object) -> Result:
    result = CliRunner().invoke(main, ["--db", url, *map(str, arguments)])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def test_a_correction_is_refused_to_whoever_saw_an_older_revision(url: str) -> None:
    bench = ("--evidence", "own bench", "--condition", "5.5 bar, 13.5 V")
    first = run(url, "correct", "PY-1110", "flow", "230 l/h", "--seen", 1, *bench)
    assert first.exit_code == DONE
    second = run(url, "correct", "PY-1110", "flow", "250 l/h", "--seen", 1, *bench)
    assert (second.exit_code, second.stdout) == (UNFORESEEN, "")
    assert len(second.stderr.splitlines()) == 1
    assert "230 l/h" in second.stderr
    assert "nothing was overwritten" in second.stderr
    shown = json.loads(run(url, "audit", "--about", "PY-1110", "--json").stdout)["entries"]
    assert [entry["what"] for entry in shown] == ["correct rating"]
    assert "command line on" in shown[0]["from"]


@pytest.mark.parametrize(
    ("value", "evidence", "word"), [("230", "own bench", "unit"), ("230 l/h", "hearsay", "how the number is known")]
)
def test_a_correction_is_read_by_the_rules_of_a_sheet(url: str, value: str, evidence: str, word: str) -> None:
    refused = run(url, "correct", "PY-1110", "flow", value, "--seen", 1, "--evidence", evidence)
    assert refused.exit_code == USAGE
    assert word in refused.stderr


def test_a_sheet_undoes_a_correction_only_when_told_to(url: str) -> None:
    sheet = seed_folder() / "parts-fuel.ods"
    run(url, "correct", "PY-1110", "flow", "230 l/h", "--seen", 1, "--evidence", "own bench")
    refused = run(url, "load", sheet)
    assert refused.exit_code == UNFORESEEN
    assert "PY-1110" in refused.stderr
    assert "--replace-corrections" in refused.stderr
    told = run(url, "load", sheet, "--replace-corrections")
    assert told.exit_code == DEFECTS  # this one sheet names parts of others
    assert len(json.loads(run(url, "revisions", "PY-1110", "--json").stdout)["revisions"]) == 3


def test_a_copy_comes_back_into_a_new_database(url: str, tmp_path: Path) -> None:
    copy, new = tmp_path / "copy.sqlite", f"sqlite:///{tmp_path}/new.sqlite"
    assert run(url, "backup", copy).exit_code == DONE
    run(url, "correct", "PY-1110", "flow", "230 l/h", "--seen", 1, "--evidence", "own bench")
    assert json.loads(run(new, "recover", copy, "--json").stdout)["kept"] is None
    for address, count in ((new, 1), (url, 2)):
        assert len(json.loads(run(address, "revisions", "PY-1110", "--json").stdout)["revisions"]) == count


@pytest.mark.of_a_file
def test_a_copy_comes_back_and_what_stood_there_is_kept(url: str, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite"
    assert run(url, "backup", copy).exit_code == DONE
    run(url, "correct", "PY-1110", "flow", "230 l/h", "--seen", 1, "--evidence", "own bench")
    assert run(url, "recover", copy, "--check").exit_code == DONE
    assert len(json.loads(run(url, "revisions", "PY-1110", "--json").stdout)["revisions"]) == 2
    said = json.loads(run(url, "recover", copy, "--json").stdout)
    assert len(json.loads(run(url, "revisions", "PY-1110", "--json").stdout)["revisions"]) == 1
    before = f"sqlite:///{said['kept']}"
    assert len(json.loads(run(before, "revisions", "PY-1110", "--json").stdout)["revisions"]) == 2
    assert "recover" in [entry["what"] for entry in json.loads(run(url, "audit", "--json").stdout)["entries"]]


def test_what_is_no_copy_is_a_sentence(url: str, tmp_path: Path) -> None:
    (tmp_path / "letter").write_text("no database")
    refused = run(url, "recover", tmp_path / "letter")
    assert (refused.exit_code, refused.stdout) == (UNFORESEEN, "")
    assert len(refused.stderr.splitlines()) == 1


def test_roles_are_granted_listed_and_taken_away(url: str) -> None:
    assert run(url, "grant", "Anna@shop.example", "keep the book").exit_code == DONE
    listed = json.loads(run(url, "people", "--json").stdout)["people"]
    assert listed == [{"person": "anna@shop.example", "roles": ["look", "keep the book"]}]
    run(url, "grant", "anna@shop.example")
    assert json.loads(run(url, "people", "--json").stdout)["people"] == []
    assert run(url, "grant", "anna", "look").exit_code == USAGE
    assert run(url, "grant", "anna@shop.example", "own the shop").exit_code == USAGE


def test_the_trail_says_whether_it_is_whole(url: str) -> None:
    whole = run(url, "audit", "--verify")
    assert whole.exit_code == DONE
    assert "the trail is whole" in whole.stdout
    database = open_database(url)
    with database.engine.begin() as connection:
        server = connection.dialect.name == "postgresql"
        connection.exec_driver_sql("ALTER TABLE audit DISABLE TRIGGER ALL" if server else "DROP TRIGGER audit_update")
        connection.exec_driver_sql("UPDATE audit SET who = 'somebody' WHERE id = 1")
    database.engine.dispose()
    broken = run(url, "audit", "--verify", "--json")
    assert broken.exit_code == UNFORESEEN
    assert json.loads(broken.stdout)["first_broken"] == 1


def test_every_library_that_comes_along_has_a_permissive_licence() -> None:
    wanted = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["dependencies"]
    found = {d.name: d.licence for d in dependencies(wanted)}
    assert {re.split(r"[\[<>=~! ;]", text)[0].lower() for text in wanted} <= set(found)
    for name, licence in found.items():
        if name in UNCHANGED:
            assert licence.startswith(UNCHANGED[name])
        else:
            pieces = re.split(r" AND | OR |; ", licence)
            assert all(PERMISSIVE.fullmatch(piece.strip("() ")) for piece in pieces), f"{name}: {licence}"


def test_the_list_of_libraries_is_one_document(url: str) -> None:
    listed = json.loads(run(url, "licences", "--json").stdout)
    assert listed["schema"] == "pinchpoint.licences/1"
    assert {"name", "version", "licence", "needed_by"} == set(listed["libraries"][0])


def test_the_database_may_be_named_where_no_process_list_shows_it(url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PINCHPOINT_DB", url)
    done = CliRunner().invoke(main, ["parts", "--json"])
    assert "PY-1110" in {part["id"] for part in json.loads(done.stdout)["parts"]}
