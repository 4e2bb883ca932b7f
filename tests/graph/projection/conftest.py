"""The demo shop's views, made once."""

import pytest

from graph.projection import build_network, describe, gather


@pytest.fixture(scope="session")
def facts(demo_database):
    with demo_database.read() as view:
        return gather(view)


@pytest.fixture(scope="session")
def network(facts):
    return build_network(facts)


@pytest.fixture(scope="session")
def graph_of_shop(facts):
    """The RDF view; tests that change it make a copy."""
    return describe(facts)
