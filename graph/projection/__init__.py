"""Views of the store, derived one way and thrown away after use: a typed network and an RDF graph."""

from graph.projection.facts import Facts, Source, gather
from graph.projection.network import Edge, Node, Place, build_network

__all__ = [
    "Edge",
    "Facts",
    "Node",
    "Place",
    "Records",
    "Source",
    "Trouble",
    "build_network",
    "describe",
    "gather",
    "read_records",
]
