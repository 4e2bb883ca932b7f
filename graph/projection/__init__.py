"""Views of the store, derived one way and thrown away after use: a typed network and an RDF graph."""

import logging
import warnings

from graph.projection.facts import Facts, gather
from graph.projection.network import build_network
from graph.projection.rdf import describe
from graph.projection.reading import Records, Trouble, read_records

__all__ = ["Facts", "Records", "Trouble", "build_network", "describe", "gather", "read_records"]

# A literal that is no number of its type stays a text and is judged by the reader; rdflib would print a traceback.
logging.getLogger("rdflib.term").setLevel(logging.ERROR)
warnings.filterwarnings("ignore", message="Parsing weird boolean", module="rdflib")
