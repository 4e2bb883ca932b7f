"""Free questions in SPARQL: what is answered, and what is refused."""

import signal
import threading
import time

import pytest

from graph.errors import OutOfRange, UsageError
from graph.projection.meter import Meter, Stopped
from graph.projection.sparql import _alarm, query

ALL = "?s ?p ?o"


def test_select_gives_rows_in_their_columns(graph_of_shop) -> None:
    answer = query(
        graph_of_shop,
        'SELECT ?name ?price ?gone { ?p schema:sku "PY-1110" ; schema:name ?name ; schema:offers/schema:price ?price }',
    )
    assert answer.columns == ("name", "price", "gone")
    assert answer.rows == (("Vundle 240 tank pump", 188.0, None),)  # fuel sheet, row 18


def test_ask_gives_a_truth_value(graph_of_shop) -> None:
    assert query(graph_of_shop, "ASK { ?p pp:requires ?p }").rows == ((False,),)


def test_construct_gives_statements(graph_of_shop) -> None:
    answer = query(graph_of_shop, "CONSTRUCT { ?q pp:drives ?p } WHERE { ?p pp:drives ?q }")
    assert answer.turtle is not None
    assert "kind:compressor pp:drives kind:turbine ." in answer.turtle


@pytest.mark.parametrize(
    "text",
    [
        "INSERT DATA { <a:b> <a:c> 1 }",
        f"DELETE WHERE {{ {ALL} }}",
        f"DELETE {{ {ALL} }} WHERE {{ {ALL} }}",
        "LOAD <http://localhost/x>",
        "CLEAR ALL",
        "DROP DEFAULT",
    ],
)
def test_updates_are_refused_and_change_nothing(graph_of_shop, text) -> None:
    before = len(graph_of_shop)
    with pytest.raises(UsageError, match="changes data"):
        query(graph_of_shop, text)
    assert len(graph_of_shop) == before


@pytest.mark.parametrize(
    "text",
    [
        f"SELECT * {{ SERVICE <http://localhost/x> {{ {ALL} }} }}",
        f"SELECT * {{ OPTIONAL {{ SERVICE SILENT <http://localhost/x> {{ {ALL} }} }} }}",
        f"SELECT * {{ FILTER EXISTS {{ SERVICE <http://localhost/x> {{ {ALL} }} }} }}",
        f"SELECT * {{ {{ SELECT * {{ SERVICE ?s {{ {ALL} }} }} }} UNION {{ {ALL} }} }}",
        f"SELECT * {{ ?a ?b ?c MINUS {{ SERVICE <http://localhost/x> {{ {ALL} }} }} }}",
    ],
)
def test_other_servers_are_never_asked(graph_of_shop, text) -> None:
    with pytest.raises(UsageError, match="SERVICE"):
        query(graph_of_shop, text)


@pytest.mark.parametrize(
    "text",
    [
        f"SELECT * FROM <http://localhost/x> {{ {ALL} }}",
        f"SELECT * FROM NAMED <file:///etc/hostname> {{ {ALL} }}",
        f"ASK FROM <http://localhost/x> {{ {ALL} }}",
        f"SELECT * {{ GRAPH <http://localhost/x> {{ {ALL} }} }}",
    ],
)
def test_other_graphs_are_never_fetched(graph_of_shop, text) -> None:
    with pytest.raises(UsageError, match="another graph"):
        query(graph_of_shop, text)


@pytest.mark.parametrize("text", ["", "nonsense", "DESCRIBE <a:b>", "SELECT * { nowhere:x ?p ?o }", "(" * 5000])
def test_what_is_no_question_is_refused_in_a_sentence(graph_of_shop, text) -> None:
    with pytest.raises(UsageError, match="SELECT, ASK or CONSTRUCT"):
        query(graph_of_shop, text)


SLOW = "SELECT * { ?a ?b ?c . ?d ?e ?f . ?g ?h ?i }"
STUCK = 'SELECT ?x { BIND(REGEX("' + "a" * 40 + 'b", "^(a+)+$") AS ?x) }'


@pytest.mark.parametrize("text", [SLOW, STUCK])
def test_time_is_limited(graph_of_shop, text) -> None:
    start = time.monotonic()
    with pytest.raises(UsageError, match="took more than"):
        query(graph_of_shop, text, seconds=0.3)
    assert time.monotonic() - start < 5.0


def test_time_is_limited_outside_the_main_thread(graph_of_shop) -> None:
    said: list[str] = []

    def ask() -> None:
        try:
            query(graph_of_shop, SLOW, seconds=0.3)
        except UsageError as error:
            said.append(str(error))

    thread = threading.Thread(target=ask)
    thread.start()
    thread.join(10.0)
    assert len(said) == 1
    assert "more than 0.3 s" in said[0]


@pytest.mark.parametrize("seconds", [0.0, -1.0, float("nan"), float("inf"), 1e6])
def test_time_limit_has_a_range(graph_of_shop, seconds) -> None:
    with pytest.raises(OutOfRange, match="time limit"):
        query(graph_of_shop, "ASK {}", seconds=seconds)


def test_a_stop_that_a_callback_of_the_collector_swallows_is_repeated(monkeypatch: pytest.MonkeyPatch) -> None:
    """Python docs, weakref.ref: exceptions raised by the callback are noted on standard error and go no further."""
    meter, calls = Meter(0.1), []

    def late() -> None:
        calls.append(None)
        if len(calls) > 1:
            raise Stopped("took too long")

    monkeypatch.setattr(meter, "late", late)

    def go_on() -> None:
        end = time.monotonic() + 20.0
        with _alarm(meter):
            while time.monotonic() < end:
                pass

    with pytest.raises(Stopped):
        go_on()
    assert len(calls) == 2
    assert signal.getitimer(signal.ITIMER_REAL) == (0.0, 0.0)
