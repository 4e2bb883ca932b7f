"""Exchange as a user does it: export here, import there, the same check; two shops; shapes; what stays behind is said."""

import json
from dataclasses import replace
from pathlib import Path

import pyshacl
import pytest
from click.testing import CliRunner
from rdflib import Graph, Literal
from rdflib.namespace import DCTERMS, RDFS, SDO, SH

from graph.learnt import Learnt
from graph.model import Evidence, EvidenceKind, Part, Rating
from graph.projection.term import NS, named
from graph.store import keep_lesson, open_database
from ingest.book import store_book
from ui.cli import DONE, NOT_REACHED, main

PUMP = named("urn:pinchpoint:", "part", "PY-1110")


def run(url: str, *words: str):
    return CliRunner().invoke(main, ["--db", url, *words])


def checked(url: str, car: str) -> dict:
    answer = run(url, "check", car, "--power", "300 kW", "--boost", "1.9 bar", "--json")
    assert answer.exit_code in (DONE, NOT_REACHED), answer.output
    return json.loads(answer.stdout)


def exported(url: str, form: str, file: Path, *more: str):
    answer = run(url, "export", "--format", form, "--out", str(file), *more)
    assert answer.exit_code == DONE, answer.output
    return answer


@pytest.mark.parametrize(("form", "car"), [("ttl", "car-a"), ("jsonld", "car-b")])
def test_an_empty_database_answers_as_the_one_that_was_exported(demo_database, tmp_path, form, car) -> None:
    file, other = tmp_path / f"book.{form}", f"sqlite:///{tmp_path}/other.sqlite"
    exported(demo_database.url, form, file)
    assert run(other, "import", str(file)).exit_code == DONE
    assert checked(other, car) == checked(demo_database.url, car)


def test_two_shops_in_one_book_keep_their_evidence_apart(tmp_path) -> None:
    shops = {
        "north": Rating(
            name="torque",
            value=500.0,
            text="500 Nm",
            evidence=Evidence(kind=EvidenceKind.OWN_BENCH, source="north.csv, row 2"),
        ),
        "south": Rating(
            name="torque",
            value=450.0,
            text="450 Nm",
            evidence=Evidence(kind=EvidenceKind.MAKER_SHEET, source="south.csv, row 7"),
        ),
    }
    files = {}
    for shop, rating in shops.items():
        url = f"sqlite:///{tmp_path}/{shop}.sqlite"
        number = f"{shop[0].upper()}-1"
        both = [
            Part(
                id="S-1", kind="clutch", name="clutch", fits=("K1",), ratings=(rating,), source=rating.evidence.source
            ),
            Part(id=number, kind="clutch", name=shop, fits=("K1",), ratings=(rating,), source=rating.evidence.source),
        ]
        database = open_database(url)
        with database.write() as unit:
            load = unit.record_load(name=f"{shop}.csv", sha256="0" * 64, who=shop, tool_version="0")
            unit.add_parts(load, both)
        database.engine.dispose()
        files[shop] = tmp_path / f"{shop}.ttl"
        exported(url, "ttl", files[shop])
    merged = f"sqlite:///{tmp_path}/both.sqlite"
    for file in files.values():
        assert run(merged, "import", str(file)).exit_code == DONE
    database = open_database(merged)
    with database.read() as view:
        own = {number: view.parts_numbered([number])[0].ratings for number in ("N-1", "S-1")}
        history = [(r.value, r.evidence) for r in view.rating_history("S-1", "torque")]
    database.engine.dispose()
    assert own["N-1"] == (shops["north"],)
    assert history == [(r.value, r.evidence) for r in shops.values()]


def validated(data: Graph, shapes: Graph, **options: bool):
    conforms, report, _ = pyshacl.validate(data, shacl_graph=shapes, inference="none", **options)
    return conforms, [str(said) for said in report.objects(None, SH.resultMessage)]


@pytest.fixture(scope="module")
def written(demo_database, tmp_path_factory):
    folder = tmp_path_factory.mktemp("shapes")
    for form, name in (("shacl", "shapes.ttl"), ("ttl", "book.ttl")):
        exported(demo_database.url, form, folder / name)
    return Graph().parse(folder / "book.ttl"), Graph().parse(folder / "shapes.ttl")


def test_exported_shapes_are_well_formed_and_the_exported_book_conforms(written) -> None:
    book, shapes = written
    assert validated(book, shapes, meta_shacl=True) == (True, [])


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        (lambda g: g.remove((PUMP, SDO.name, None)), "a part has one name"),
        (lambda g: g.remove((PUMP, NS.fits, None)), "a part fits at least one code"),
        (lambda g: g.remove((_flow(g), DCTERMS.bibliographicCitation, None)), "a rating says in which cell it stands"),
        (lambda g: g.add((PUMP, SDO.sku, Literal("another"))), "a part has one number"),
    ],
)
def test_a_book_with_a_defect_fails_the_exported_shapes(written, spoil, message) -> None:
    book, shapes = written
    copy = Graph() + book
    spoil(copy)
    conforms, said = validated(copy, shapes)
    assert not conforms
    assert any(message in text for text in said)


def _flow(graph: Graph):
    return next(r for r in graph.objects(PUMP, NS.rating) if str(graph.value(r, RDFS.label)) == "flow")


def test_a_table_comes_with_its_description(demo_database, tmp_path) -> None:
    # W3C, "Model for Tabular Data and Metadata on the Web", section 5.2: the description of book.csv is found
    # beside it under the name book.csv-metadata.json
    exported(demo_database.url, "csv", tmp_path / "book.csv")
    described = json.loads((tmp_path / "book.csv-metadata.json").read_text(encoding="utf-8"))
    assert described["@context"] == "http://www.w3.org/ns/csvw" or described["@context"][0].endswith("/csvw")
    assert described["url"] == "book.csv"
    head = (tmp_path / "book.csv").read_text(encoding="utf-8").splitlines()[0].split(",")
    titles = [column["titles"] for column in described["tableSchema"]["columns"]]
    assert [t if isinstance(t, str) else t[0] for t in titles] == [h.strip('"') for h in head]


def test_what_stays_behind_is_said(demo_database, tmp_path) -> None:
    quiet = json.loads(exported(demo_database.url, "ttl", tmp_path / "a.ttl", "--json").stdout)
    assert quiet["stays_behind"] == {}
    url = f"sqlite:///{tmp_path}/shop.sqlite"
    assert run(url, "import", str(tmp_path / "a.ttl")).exit_code == DONE
    database = open_database(url)
    with database.read() as view:
        part = view.parts_numbered(["PY-1110"])[0]
    with database.write() as unit:
        load = unit.record_load(name="b.csv", sha256="0" * 64, who="test", tool_version="0")
        unit.add_parts(load, [replace(part, price=1.0)])
    database.engine.dispose()
    answer = exported(url, "ttl", tmp_path / "b.ttl", "--json")
    assert json.loads(answer.stdout)["stays_behind"] == {"earlier revisions of parts": 1}
    assert "stays behind: 1 earlier revisions of parts" in answer.stderr


def test_a_kept_engine_stays_behind_and_is_said(demo_book, tmp_path) -> None:
    url = f"sqlite:///{tmp_path}/shop.sqlite"
    database = open_database(url)
    store_book(database, demo_book, who="tests", version="0")
    learnt = Learnt(fields=("breathing",), mean=(-0.04,), covariance=((1e-4,),), readings=12, fuels=("ron98",))
    with database.write() as unit:
        keep_lesson(unit, "car-a", learnt, who="tests", tool_version="0")
    database.engine.dispose()
    answer = exported(url, "ttl", tmp_path / "c.ttl", "--json")
    assert json.loads(answer.stdout)["stays_behind"]["lessons about engines"] == 1
    assert "1 lessons about engines" in answer.stderr
    other = f"sqlite:///{tmp_path}/other.sqlite"
    assert run(other, "import", str(tmp_path / "c.ttl")).exit_code == DONE
    assert checked(url, "car-a")["learnt"] is not None
    assert checked(other, "car-a")["learnt"] is None
