"""Exchange of whole books: out, into an empty database, and the same answers again."""

import json
from dataclasses import replace

import pytest
from rdflib import Graph

from graph.errors import UsageError
from graph.projection import Facts, describe, gather, read_records
from graph.service import Request, assess
from graph.store import open_database
from ingest.exchange import read_book_graph, read_graph, store_records, write_book
from ui.document import check_document


@pytest.fixture(scope="module")
def facts(demo_database):
    with demo_database.read() as view:
        return gather(view)


def loaded(path, tmp_path):
    database = open_database(f"sqlite:///{tmp_path}/other.sqlite")
    with database.read() as view:
        records = read_book_graph(path, view)
    store_records(database, records, path, who="tests", version="0")
    return database, records


@pytest.mark.parametrize("form", ["ttl", "jsonld"])
def test_a_book_goes_out_and_into_an_empty_database_unchanged(facts, form, tmp_path) -> None:
    path = tmp_path / f"book.{form}"
    assert write_book(facts, form, path) == (path,)
    database, records = loaded(path, tmp_path)
    assert records.troubles == ()
    with database.read() as view:
        assert view.parts() == facts.parts
        assert view.platforms() == facts.platforms
        assert view.cars() == facts.cars
        assert [load["name"] for load in view.loads()] == [path.name]


def test_the_check_of_an_imported_book_is_the_same(facts, demo_database, tmp_path) -> None:
    path = tmp_path / "book.ttl"
    write_book(facts, "ttl", path)
    database, _ = loaded(path, tmp_path)
    request = Request(power=300e3, boost=1.9e5)
    with demo_database.read() as view:
        before = check_document(assess(view, "car-a", request, suggest=False))
    with database.read() as view:
        after = check_document(assess(view, "car-a", request, suggest=False))
    assert after == before


def test_an_imported_book_can_be_exported_again_and_says_the_same(facts, tmp_path) -> None:
    path = tmp_path / "book.ttl"
    write_book(facts, "ttl", path)
    database, _ = loaded(path, tmp_path)
    with database.read() as view:
        again = gather(view)
    assert read_records(describe(again)).parts == facts.parts


def test_two_books_one_after_the_other_keep_both_ratings_in_the_history(facts, tmp_path) -> None:
    first, second = tmp_path / "first.ttl", tmp_path / "second.ttl"
    pump = facts.part("PY-1110")
    other = replace(pump, ratings=(replace(pump.ratings[0], value=230.0 / 3.6e6), *pump.ratings[1:]))
    write_book(facts, "ttl", first)
    write_book(Facts(parts=(other,)), "ttl", second)
    database, _ = loaded(first, tmp_path)
    store_records(database, read_book_graph(second), second, who="tests", version="0")
    with database.read() as view:
        history = view.rating_history("PY-1110", "flow")
    # 240 L/h in the demo's fuel sheet, then the other book's 230 L/h
    assert [round(r.value * 3.6e6) for r in history] == [240, 230]


def test_a_car_without_its_platform_is_left_out_and_named(facts, tmp_path) -> None:
    path = tmp_path / "cars.ttl"
    write_book(Facts(parts=(), cars=facts.cars[:1]), "ttl", path)
    records = read_book_graph(path)
    assert records.cars == ()
    assert [t.name for t in records.troubles] == ["car-a"]
    assert "marrit-20t" in records.troubles[0].why


@pytest.mark.parametrize(
    "document",
    [
        {"@context": "http://localhost/context.jsonld", "@id": "urn:x"},
        {"@context": ["http://localhost/context.jsonld", {}], "@id": "urn:x"},
        {"@context": {"@import": "http://localhost/context.jsonld"}, "@id": "urn:x"},
        [{"@id": "urn:x", "urn:p": {"@context": "file:///etc/hostname", "@id": "urn:y"}}],
        {"@context": {"t": {"@id": "urn:t", "@context": "context.jsonld"}}, "t": {}},
    ],
)
def test_nothing_that_a_file_names_is_fetched(document, tmp_path) -> None:
    path = tmp_path / "book.jsonld"
    path.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(UsageError, match="to be fetched, which is not done"):
        read_graph(path)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("book.ttl", b"this is no turtle"),
        ("book.ttl", b"\xff\xfe\x00"),
        ("book.ttl", b"<a> <b> ."),
        ("book.jsonld", b"{"),
        ("book.jsonld", b"[" * 100000),
        ("book.jsonld", b'{"@graph": 1, "@context": 7}'),
        ("book.rdf", b""),
        ("book.ttl", b""),
    ],
)
def test_a_file_that_is_no_book_is_refused_in_a_sentence(name, content, tmp_path) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(UsageError, match="book"):
        read_book_graph(path)


def test_a_missing_file_and_a_missing_folder_are_named(facts, tmp_path) -> None:
    with pytest.raises(UsageError, match="cannot be read"):
        read_graph(tmp_path / "none.ttl")
    for form in ("ttl", "xlsx", "csv"):
        with pytest.raises(UsageError, match="cannot be written"):
            write_book(facts, form, tmp_path / "none" / "book")
    with pytest.raises(UsageError, match="known: ttl, jsonld, xlsx, csv"):
        write_book(facts, "pdf", tmp_path / "book.pdf")


def test_exports_of_the_same_book_say_the_same(facts, tmp_path) -> None:
    for name in ("a.ttl", "b.ttl"):
        write_book(facts, "ttl", tmp_path / name)
    a, b = ((tmp_path / name).read_text(encoding="utf-8") for name in ("a.ttl", "b.ttl"))
    assert a == b
    assert len(Graph().parse(data=a, format="turtle")) == len(describe(facts))
