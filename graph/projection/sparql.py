"""Free questions in SPARQL 1.1: SELECT, ASK and CONSTRUCT over the RDF view, with a time limit and no way out.

References
----------
W3C, SPARQL 1.1 Query Language, Recommendation of 21 March 2013.
"""

from __future__ import annotations

import math
import signal
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from rdflib import Graph, Literal
from rdflib.plugins.sparql import prepareQuery
from rdflib.plugins.sparql.parser import parseUpdate
from rdflib.plugins.sparql.parserutils import CompValue
from rdflib.query import Result

from graph.errors import OutOfRange, UsageError
from graph.projection.answer import Answer, Cell
from graph.projection.meter import Meter, Stopped
from graph.projection.term import PREFIXES, bind

SECONDS = 20.0
LONGEST = 600.0
#: A query whose time is up and that goes on is stopped again after so long [s].
AGAIN = 0.5
#: Letters of a query [1].
LARGEST_QUERY = 20_000
_FORMS = {"SelectQuery": "SELECT", "AskQuery": "ASK", "ConstructQuery": "CONSTRUCT"}
_REMEDY = "write a SELECT, ASK or CONSTRUCT query over the book alone"


class _Timed(Graph):
    """A graph that stops answering when a limit is reached."""

    def __init__(self, graph: Graph, meter: Meter) -> None:
        super().__init__(store=graph.store, identifier=graph.identifier, namespace_manager=graph.namespace_manager)
        self.meter = meter

    def triples(self, triple: Any) -> Iterator[Any]:  # type: ignore[override]
        for found in super().triples(triple):
            self.meter.step()
            yield found
        self.meter.step()


def query(graph: Graph, text: str, *, seconds: float = SECONDS) -> Answer:
    """Ask a question in SPARQL.

    Parameters
    ----------
    graph : rdflib.Graph
        The RDF view.
    text : str
        The query; the prefixes of :data:`graph.projection.term.PREFIXES` need not be declared.
    seconds : float
        Longest time that the answer may take [s], from above 0 to 600.

    Returns
    -------
    Answer
        Rows of a SELECT, one truth value of an ASK, statements of a CONSTRUCT.

    Raises
    ------
    UsageError
        The text is no such query, or asks outside the book (SERVICE, FROM), or takes too much time or memory.
    OutOfRange
        `seconds` is out of its range.
    """
    if not 0.0 < seconds <= LONGEST or not math.isfinite(seconds):
        raise OutOfRange("time limit", f"{seconds:g} s", f"above 0 to {LONGEST:g} s", "choose a time within that range")
    if len(text) > LARGEST_QUERY:
        raise UsageError(f"the query has {len(text)} letters; {LARGEST_QUERY} are the most that is read")
    prepared = _prepared(text, {prefix: str(name) for prefix, name in graph.namespaces()})
    meter = Meter(seconds)
    for part in list(_parts(prepared.algebra)):
        meter.attach(part)
    try:
        with _alarm(meter):
            return _answer(_Timed(graph, meter).query(prepared), _FORMS[prepared.algebra.name])
    except Stopped as limit:
        raise UsageError(
            f"the query {limit.why} and was stopped; name more of what you look for, or allow more time"
        ) from None
    except MemoryError:
        raise UsageError("the query needs more memory than there is; name more of what you look for") from None
    except Exception as error:  # functions and aggregates raise of many kinds, some of them plain Exception
        raise UsageError(f"the query cannot be answered ({_said(error)}); {_REMEDY}") from None


def _prepared(text: str, prefixes: Mapping[str, str]) -> Any:
    try:
        prepared = prepareQuery(text, initNs={**PREFIXES, **prefixes})
    except Exception as error:  # the parser raises of many kinds, some of them plain Exception
        if _is_update(text):
            raise UsageError(f"the query changes data, which only sheets and imports do; {_REMEDY}") from None
        raise UsageError(f"this is no SPARQL query that can be asked here ({_said(error)}); {_REMEDY}") from None
    algebra = prepared.algebra
    if algebra.name not in _FORMS:
        raise UsageError(f"found {algebra.name}, expected is one of {', '.join(_FORMS.values())}; {_REMEDY}")
    if any(part.name == "ServiceGraphPattern" for part in _parts(algebra)):
        raise UsageError(f"the query asks another server (SERVICE), which is not done; {_REMEDY}")
    if algebra.get("datasetClause") or any(part.name == "Graph" for part in _parts(algebra)):
        raise UsageError(f"the query names another graph (FROM, GRAPH), and the book is one; {_REMEDY}")
    return prepared


def _said(error: Exception) -> str:
    return " ".join(str(error).split())[:200] or type(error).__name__


def _is_update(text: str) -> bool:
    try:
        parseUpdate(text)
    except Exception:  # whatever it is, it is no update
        return False
    return True


def _parts(value: Any) -> Iterator[CompValue]:
    """Every node of a query's algebra."""
    if isinstance(value, CompValue):
        yield value
        for name in value:
            yield from _parts(value[name])
    elif isinstance(value, list | tuple | set | frozenset):
        for member in value:
            yield from _parts(member)


@contextmanager
def _alarm(meter: Meter) -> Iterator[None]:
    """Stop also what never looks into the graph, where the system can: in the main thread of Unix."""
    if not hasattr(signal, "SIGALRM") or threading.current_thread() is not threading.main_thread():
        yield
        return

    def stop(*_: object) -> None:
        meter.late()

    before = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, meter.seconds, AGAIN)  # a call-back of the collector swallows what it raises
    try:
        try:
            yield
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0.0)
    finally:  # once more, where the alarm came between
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)


def _answer(result: Result, form: str) -> Answer:
    if form == "ASK":
        return Answer(question="ask", columns=("answer",), rows=((bool(result.askAnswer),),))
    if form == "CONSTRUCT":
        made = bind(Graph())
        for triple in result:
            made.add(triple)  # type: ignore[arg-type]
        turtle = made.serialize(format="turtle")
        rows = tuple(tuple(_cell(term) for term in triple) for triple in sorted(made))
        return Answer(question="construct", columns=("subject", "predicate", "object"), rows=rows, turtle=turtle)
    names = tuple(str(variable) for variable in result.vars or ())
    rows = tuple(tuple(_cell(term) for term in row) for row in result)  # type: ignore[union-attr]
    return Answer(question="select", columns=names, rows=rows)


def _cell(term: Any) -> Cell:
    if isinstance(term, Literal):
        value = term.toPython()
        if isinstance(value, bool | int | str):
            return value
        try:
            number = float(value)
        except (TypeError, ValueError, OverflowError):
            return str(term)
        return number if math.isfinite(number) else str(term)
    return None if term is None else str(term)
