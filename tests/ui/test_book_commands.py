"""Questions, export and import on the command line."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from graph.model import Part
from graph.store import open_database
from ui.cli import DEFECTS, DONE, USAGE, main


@pytest.fixture
def run(demo_database):
    def invoke(*words, url=None):
        return CliRunner().invoke(main, ["--db", url or demo_database.url, *words])

    return invoke


def test_without_a_name_the_questions_are_listed(run) -> None:
    said = run("ask")
    assert said.exit_code == DONE
    assert "fits-slot-and-carries SLOT AMOUNT [CODE] [RATING]" in said.output
    listed = json.loads(run("ask", "--json").stdout)
    assert "pulls-along" in [q["name"] for q in listed["questions"]]


def test_what_a_pump_pulls_along(run) -> None:
    # fuel sheet, rows 18 and 22
    said = json.loads(run("ask", "pulls-along", "PY-1110", "--json").stdout)
    assert said["schema"] == "pinchpoint.ask/1"
    assert [row["needs"] for row in said["rows"]] == ["PY-1112", "PY-1113", "PY-1119"]
    assert [row["price_EUR"] for row in said["rows"]] == [215.0, 62.0, 34.0]


def test_amounts_are_asked_and_shown_in_the_shops_units(run) -> None:
    words = ("ask", "fits-slot-and-carries", "fuel pump", "200 L/h", "marrit-20t")
    shown = run(*words)
    assert "240 L/h" in shown.output
    assert "parts-fuel.ods, sheet 'Fuel', row 18" in shown.output
    row = json.loads(run(*words, "--json").stdout)["rows"][0]
    assert row["value_m3_s"] == pytest.approx(240.0 / 3.6e6)


@pytest.mark.parametrize("name", ["no-usable-rating", "hangs-in-the-air"])
def test_an_empty_answer_is_a_sentence(run, name) -> None:
    said = run("ask", name)
    assert (said.exit_code, said.output) == (DONE, "Nothing in the book answers this.\n")


def test_a_long_answer_begins_with_its_first_rows_and_says_how_many_there_are(run, tmp_path) -> None:
    url = f"sqlite:///{tmp_path}/long.sqlite"
    database = open_database(url)
    with database.write() as unit:
        load = unit.record_load(name="a.csv", sha256="0" * 64, who="test", tool_version="0")
        parts = [Part(id=f"A-{i:03d}", kind="mounts", name="", source=f"a.csv, row {i}") for i in range(120)]
        unit.add_parts(load, parts)
    database.engine.dispose()
    begun = run("ask", "hangs-in-the-air", url=url).output
    assert "A-099" in begun
    assert "A-100" not in begun
    assert begun.endswith("100 of 120 rows; --all prints every one.\n")
    whole = run("ask", "hangs-in-the-air", "--all", url=url).output
    assert "A-119" in whole
    assert "rows" not in whole
    document = json.loads(run("ask", "hangs-in-the-air", "--json", url=url).stdout)
    assert (document["count"], len(document["rows"])) == (120, 120)
    assert document["rows"][-1]["evidence"] == "a.csv, row 119"


def test_a_query_from_a_file(run, tmp_path) -> None:
    file = tmp_path / "own.rq"
    file.write_text('SELECT ?name { ?p schema:sku "PY-1119" ; schema:name ?name }', encoding="utf-8")
    assert json.loads(run("ask", str(file), "--json").stdout)["rows"] == [{"name": "controller heat plate"}]
    file.write_text("CONSTRUCT WHERE { ?p pp:drives ?q }", encoding="utf-8")
    assert "kind:turbine pp:drives kind:compressor" in run("ask", str(file)).output
    file.write_text("ASK { ?p pp:drives ?q }", encoding="utf-8")
    assert "yes" in run("ask", str(file)).output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("nonsense",), "no question is called 'nonsense'"),
        (("pulls-along",), "expected is: ask pulls-along PART"),
        (("pulls-along", "PY-9"), "no part is called 'PY-9'"),
        (("fits-slot-and-carries", "nowhere", "1 A"), "no slot is called 'nowhere'"),
        (("fits-slot-and-carries", "tank pump", "200 bar"), "AMOUNT"),
        (("fits-slot-and-carries", "mounts", "1 A"), "no rating of a mounts"),
        (("missing.rq",), "cannot be read"),
    ],
)
def test_a_question_that_cannot_be_asked_is_refused(run, words, said) -> None:
    answer = run("ask", *words)
    assert answer.exit_code == USAGE
    assert said in answer.stderr
    assert answer.stdout == ""


def test_updates_are_refused(run, tmp_path) -> None:
    file = tmp_path / "own.rq"
    file.write_text("DELETE WHERE { ?s ?p ?o }", encoding="utf-8")
    answer = run("ask", str(file))
    assert answer.exit_code == USAGE
    assert "changes data" in answer.stderr


@pytest.mark.parametrize("form", ["ttl", "jsonld", "xlsx", "csv"])
def test_what_is_exported_can_be_imported(run, form, tmp_path) -> None:
    file = tmp_path / f"book.{form}"
    out = json.loads(run("export", "--format", form, "--out", str(file), "--json").stdout)
    assert out["files"][0] == str(file)
    assert all(Path(f).exists() for f in out["files"])
    into = run("import", str(file), "--json", url=f"sqlite:///{tmp_path}/new.sqlite")
    assert into.exit_code == DONE, into.output
    parts = json.loads(run("parts", "--json", url=f"sqlite:///{tmp_path}/new.sqlite").stdout)["parts"]
    assert len(parts) == out["parts"]


def test_what_cannot_be_imported_is_named(run, tmp_path) -> None:
    file = tmp_path / "book.ttl"
    run("export", "--format", "ttl", "--out", str(file))
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("schema:category kind:valves", "schema:category kind:nonsense"), encoding="utf-8")
    answer = run("import", str(file), url=f"sqlite:///{tmp_path}/new.sqlite")
    assert answer.exit_code == DEFECTS
    assert "is no part kind of this program" in answer.stderr


def test_unknown_format_and_missing_folder(run, tmp_path) -> None:
    assert run("export", "--format", "pdf", "--out", str(tmp_path / "x")).exit_code == USAGE
    assert run("export", "--format", "ttl", "--out", str(tmp_path / "none" / "x.ttl")).exit_code == USAGE
    assert run("import", str(tmp_path / "none.ttl")).exit_code == USAGE
