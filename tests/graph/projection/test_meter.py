"""What a query may use: memory, the length of texts, and patterns that could run for ever in a page."""

import threading

import pytest

from graph.errors import UsageError
from graph.projection.sparql import LARGEST_QUERY, query


def in_a_thread(call):
    """The answer or the error of a call made as a page makes it, outside the main thread."""
    found = []

    def run():
        try:
            found.append(call())
        except UsageError as error:
            found.append(error)

    thread = threading.Thread(target=run)
    thread.start()
    thread.join(30.0)
    assert not thread.is_alive()
    return found[0]


@pytest.mark.parametrize("pattern", ["^(a+)+$", "(a|aa)*b", "a*a*a*b", "(a{1,9}){1,9}b"])
def test_a_pattern_that_may_run_for_ever_is_not_begun_in_a_page(graph_of_shop, pattern) -> None:
    text = f'ASK {{ FILTER REGEX("{"a" * 50}", "{pattern}") }}'
    assert "a pattern that may take for ever" in str(in_a_thread(lambda: query(graph_of_shop, text)))


@pytest.mark.parametrize(("pattern", "answer"), [("^rods", True), ("r.*s", True), ("pump", False)])
def test_a_plain_pattern_is_answered_there(graph_of_shop, pattern, answer) -> None:
    found = in_a_thread(lambda: query(graph_of_shop, f'ASK {{ FILTER REGEX("rods", "{pattern}") }}'))
    assert found.rows == ((answer,),)


def test_texts_that_double_are_stopped_and_short_ones_are_not(graph_of_shop) -> None:
    def doubled(times):
        steps = " ".join(f"BIND(CONCAT(?t{n}, ?t{n}) AS ?t{n + 1})" for n in range(times))
        return query(graph_of_shop, f'SELECT ?t{times} {{ BIND("ab" AS ?t0) {steps} }}')

    assert doubled(5).rows == (("ab" * 32,),)
    with pytest.raises(UsageError, match="makes a text of more than"):
        doubled(30)


def test_joined_rows_are_those_of_the_rows(graph_of_shop) -> None:
    found = query(graph_of_shop, 'SELECT (GROUP_CONCAT(?x; SEPARATOR="+") AS ?all) { VALUES ?x { "a" "b" "c" } }')
    assert sorted(found.rows[0][0].split("+")) == ["a", "b", "c"]


def test_a_query_of_more_than_a_page_is_not_read(graph_of_shop) -> None:
    with pytest.raises(UsageError, match="are the most that is read"):
        query(graph_of_shop, "ASK { ?a ?b ?c }" + " " * LARGEST_QUERY)
