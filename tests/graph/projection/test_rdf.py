"""The RDF view. Names are checked against the vocabularies in rdflib, factors against scipy.constants (CODATA, SI)."""

import math
from dataclasses import replace

import pytest
from rdflib import Graph, Literal, URIRef
from rdflib.namespace import CSVW, DCTERMS, PROV, RDF, RDFS, SDO, SKOS, SOSA, XSD
from scipy import constants

from graph.errors import OutOfRange
from graph.model import (
    Condition,
    Curve,
    Evidence,
    EvidenceKind,
    Interface,
    Meaning,
    Part,
    Rating,
    Relation,
    RelationKind,
)
from graph.projection import Facts, describe, gather, read_records
from graph.projection.facts import Source
from graph.projection.network import part_node
from graph.projection.shapes import shapes
from graph.projection.term import NS, QUANTITIES, QUDT, TERMS, UNIT, exact, named, to_si
from graph.projection.walk import cascade
from graph.quantity import Quantity
from graph.store import SheetRow, open_database
from ingest.book import store_book

CLOSED = (PROV, SKOS, SOSA, SDO, CSVW, DCTERMS)
FORMATS = ("turtle", "json-ld")


def again(graph: Graph, form: str) -> Graph:
    return Graph().parse(data=graph.serialize(format=form), format=form)


def names_in(graph: Graph) -> set[URIRef]:
    used = set(graph.predicates()) | set(graph.objects(None, RDF.type))
    return {name for name in used if isinstance(name, URIRef)}


@pytest.mark.parametrize("namespace", CLOSED, ids=lambda n: str(n))
def test_every_public_name_is_declared_in_its_vocabulary(graph_of_shop, namespace) -> None:
    used = {
        str(n).removeprefix(str(namespace))
        for n in names_in(graph_of_shop + shapes())
        if str(n).startswith(str(namespace))
    }
    assert sorted(used - set(namespace.__annotations__)) == []


def test_the_public_vocabularies_are_really_used(graph_of_shop) -> None:
    used = names_in(graph_of_shop)
    assert {SDO.ProductModel, PROV.Activity, PROV.wasDerivedFrom, SOSA.Observation, SKOS.Concept, QUDT.Quantity} <= used


def test_every_name_of_our_own_has_its_meaning(graph_of_shop) -> None:
    own = {
        str(t).removeprefix(str(NS))
        for triple in graph_of_shop + shapes()
        for t in triple
        if str(t).startswith(str(NS))
    }
    assert own <= set(TERMS)
    for term in TERMS:
        assert (NS[term], RDFS.comment, None) in graph_of_shop


# https://www.bipm.org and CODATA by way of scipy.constants; REV-PER-MIN from the minute
FACTORS = {
    "HectoPA": constants.hecto, "KiloPA": constants.kilo, "MegaPA": constants.mega, "MilliBAR": constants.bar / 1000,
    "BAR": constants.bar, "PSI": constants.psi, "ATM": constants.atm, "DEG_C": 1.0,
    "DEG_F": constants.degree_Fahrenheit, "GM-PER-SEC": constants.gram, "KiloGM-PER-HR": 1 / constants.hour,
    "LB-PER-MIN": constants.lb / constants.minute, "L-PER-HR": constants.liter / constants.hour,
    "L-PER-MIN": constants.liter / constants.minute, "CentiM3-PER-MIN": constants.centi**3 / constants.minute,
    "L": constants.liter, "CentiM3": constants.centi**3, "MilliM3": constants.milli**3,
    "LB_F-FT": constants.lbf * constants.foot, "KiloGM_F-M": constants.kgf, "KiloW": constants.kilo, "KiloN": constants.kilo, "LB_F": constants.lbf,
    "HP": constants.hp, "HP_Metric": 75 * constants.g, "REV-PER-MIN": 1 / constants.minute, "MilliV": constants.milli,
    "KiloV": constants.kilo, "MilliA": constants.milli, "MilliJ": constants.milli, "MilliM": constants.milli,
    "CentiM": constants.centi, "MicroM": constants.micro, "IN": constants.inch, "KiloM": constants.kilo,
    "CentiM2": constants.centi**2, "MilliM2": constants.milli**2, "GM": constants.gram, "LB": constants.lb,
    "GM-PER-CentiM3": constants.gram / constants.centi**3, "MilliSEC": constants.milli, "MIN": constants.minute,
    "HR": constants.hour, "DAY": constants.day, "WK": constants.week, "DEG": constants.degree,
    "KiloW-PER-K": constants.kilo, "PERCENT": 0.01,
}  # fmt: skip
ONES = {"PA", "K", "KiloGM-PER-SEC", "M3-PER-SEC", "M3", "N-M", "N", "W", "REV-PER-SEC", "V", "A", "J", "M", "M2", "KiloGM",
        "KiloGM-PER-M3", "SEC", "RAD", "W-PER-K", "UNITLESS", "NUM"}  # fmt: skip


@pytest.mark.parametrize("quantity", Quantity, ids=lambda q: q.label)
def test_unit_factors_are_those_of_the_constants(quantity) -> None:
    for term in QUANTITIES[quantity][1]:
        name = str(term.iri).removeprefix(str(UNIT))
        if term.iri.startswith(str(NS)):
            assert term.factor == 1.0
        else:
            assert term.factor == pytest.approx(1.0 if name in ONES else FACTORS[name], rel=1e-12), name


def test_unit_offsets_are_the_zeros_of_the_scales() -> None:
    celsius = to_si(0.0, UNIT.DEG_C, Quantity.TEMPERATURE)
    fahrenheit = to_si(212.0, UNIT.DEG_F, Quantity.TEMPERATURE)
    assert celsius == constants.zero_Celsius
    assert fahrenheit == pytest.approx(constants.convert_temperature(212.0, "F", "K"), rel=1e-12)


def test_first_unit_of_a_quantity_is_the_one_inside_the_program() -> None:
    assert {q for q in Quantity if QUANTITIES[q][1][0].factor != 1.0 or QUANTITIES[q][1][0].offset != 0.0} == set()


def test_unit_of_another_quantity_is_refused() -> None:
    with pytest.raises(OutOfRange, match="allowed is W, KiloW, HP, HP_Metric"):
        to_si(1.0, UNIT.BAR, Quantity.POWER)


@pytest.mark.parametrize("value", [1.97e-05, 0.1 + 0.2, 1e300, 5e-324, -0.0, 123456789.123456789, math.pi])
@pytest.mark.parametrize("form", FORMATS)
def test_no_digit_of_a_number_is_lost(value, form) -> None:
    graph = Graph()
    node = URIRef("urn:x")
    graph.add((node, QUDT.numericValue, exact(value)))
    assert float(str(again(graph, form).value(node, QUDT.numericValue))) == value


@pytest.mark.parametrize("form", FORMATS)
def test_demo_book_comes_back_equal(graph_of_shop, facts, form) -> None:
    records = read_records(again(graph_of_shop, form))
    assert records.troubles == ()
    assert records.parts == facts.parts
    assert records.platforms == facts.platforms
    assert records.cars == facts.cars


RICH = Part(
    id="Ä 1/2:#%é",
    kind="rods",
    name='rods "x"\nsecond line\t<&>',
    maker="M & Söhne",
    fits=("B", "A"),
    ratings=(
        Rating(
            name="torque",
            value=Curve(x=(1 / 3, 50.0), y=(500.1, 600.0)),
            spread=0.1 + 0.2,
            meaning=Meaning.SURVIVED,
            evidence=Evidence(
                kind=EvidenceKind.OWN_DYNO,
                source="a.xlsx, sheet 'S', row 2, column 'Rating' (F)",
                detail="d",
                by="W",
                date="spring",
            ),
            text="as written",
        ),
    ),
    interfaces=(Interface(port="z", type="1"), Interface(port="a", type="2")),
    relations=(
        Relation(kind=RelationKind.REQUIRES, part="B9 | A9", text="B9 | A9"),
        Relation(kind=RelationKind.REQUIRES, slot="tank_pump", rating="flow", at_least=1e-4, text="flow"),
        Relation(kind=RelationKind.EXCLUDES, part="C9"),
    ),
    tasks=("b", "a", "b"),
    price=0.0,
    labour=0.0,
    lead_time=3.5,
    stock=0,
    factory=True,
    note="=1+1",
    source="a.xlsx, sheet 'S', row 2",
)


@pytest.mark.parametrize("form", FORMATS)
def test_every_field_of_a_part_comes_back_in_its_order(form) -> None:
    records = read_records(again(describe(Facts(parts=(RICH,)), vocabulary=False), form))
    assert records.troubles == ()
    assert records.parts == (RICH,)


@pytest.mark.parametrize("form", FORMATS)
def test_conditions_with_words_and_assumptions_come_back(form, facts) -> None:
    pump = facts.part("PY-1110")
    said = (Condition(name="fluid", value="ethanol", assumed=True), Condition(name="voltage", value=12.0))
    changed = replace(pump, ratings=(replace(pump.ratings[0], conditions=said),))
    assert read_records(again(describe(Facts(parts=(changed,))), form)).parts == (changed,)


def test_ratings_come_from_rows_rows_from_files_and_files_by_loads(graph_of_shop, facts) -> None:
    rows = graph_of_shop.query(
        """SELECT ?label ?file ?who WHERE {
             ?part schema:sku "PY-1110" ; pp:rating ?rating . ?rating pp:states ?what ; prov:wasDerivedFrom ?row .
             ?what rdfs:label "flow"@en . ?row rdfs:label ?label ; prov:hadPrimarySource/schema:sha256 ?file ;
             prov:wasGeneratedBy/prov:wasAssociatedWith/rdfs:label ?who }"""
    )
    ((label, digest, who),) = rows
    assert str(label) == "parts-fuel.ods, sheet 'Fuel', row 18"
    assert str(digest) == facts.files["parts-fuel.ods"].sha256
    assert str(who) == "tests"


def test_only_own_measurements_are_observations(graph_of_shop, facts) -> None:
    own = {EvidenceKind.OWN_BENCH, EvidenceKind.OWN_DYNO, EvidenceKind.OWN_LOG}
    expected = sum(r.evidence.kind in own for p in facts.parts for r in p.ratings)
    assert len(set(graph_of_shop.subjects(RDF.type, SOSA.Observation))) == expected


def test_cascade_equals_a_path_query_for_every_part(graph_of_shop, network, facts) -> None:
    for part in facts.parts:
        node = named("urn:pinchpoint:", "part", part.id)
        rows = graph_of_shop.query(
            "SELECT DISTINCT ?n WHERE { ?p pp:requires+/schema:sku ?n }", initBindings={"p": node}
        )
        assert {str(n) for (n,) in rows} - {part.id} == {s.needs for s in cascade(network, part.id)}
        assert part_node(part.id) in network


def other_book(facts: Facts) -> Facts:
    """Another shop's book: the same pump, with its own number from its own bench."""
    pump = facts.part("PY-1110")
    flow = replace(pump.ratings[0], value=230.0 / 3.6e6, text="230 L/h")
    source = Source(name="parts-fuel.ods", sha256="f" * 64, who="another shop")
    return Facts(parts=(replace(pump, ratings=(flow,)),), files={"parts-fuel.ods": source})


def test_two_books_put_together_keep_their_evidence_apart(graph_of_shop, facts) -> None:
    merged = graph_of_shop + describe(other_book(facts))
    rows = merged.query(
        """SELECT ?value ?who WHERE { ?p schema:sku "PY-1110" ; pp:rating ?r . ?r rdfs:label "flow" ; qudt:numericValue ?value ;
             prov:wasDerivedFrom/prov:wasGeneratedBy/prov:wasAssociatedWith/rdfs:label ?who }"""
    )
    # 240 L/h in the demo's fuel sheet, 230 L/h in the other book
    assert {(round(float(v) * 3.6e6), str(w)) for v, w in rows} == {(240, "tests"), (230, "another shop")}


def test_merged_books_are_read_with_both_ratings_the_stronger_first(graph_of_shop, facts) -> None:
    weaker = other_book(facts).parts[0]
    estimate = replace(weaker.ratings[0], evidence=replace(weaker.ratings[0].evidence, kind=EvidenceKind.ESTIMATE))
    merged = graph_of_shop + describe(Facts(parts=(replace(weaker, ratings=(estimate,)),)))
    pump = next(p for p in read_records(merged).parts if p.id == "PY-1110")
    flows = [(r.evidence.kind, round(r.value * 3.6e6)) for r in pump.ratings if r.name == "flow"]
    assert flows == [(EvidenceKind.OWN_BENCH, 240), (EvidenceKind.ESTIMATE, 230)]


def test_the_same_book_put_together_with_itself_is_one_book(graph_of_shop, facts) -> None:
    records = read_records(graph_of_shop + again(graph_of_shop, "turtle"))
    assert records.troubles == ()
    assert records.parts == facts.parts


def test_two_prices_of_one_part_are_refused_by_name(graph_of_shop, facts) -> None:
    pump = replace(facts.part("PY-1110"), price=1.0)
    records = read_records(graph_of_shop + describe(Facts(parts=(pump,), files=facts.files)))
    (trouble,) = records.troubles
    assert trouble.name == "PY-1110"
    assert "offers is stated as" in trouble.why
    assert len(records.parts) == len(facts.parts) - 1


@pytest.mark.parametrize(
    ("predicate", "value", "said"),
    [
        (QUDT.numericValue, exact(1.0), "allowed is"),
        (QUDT.hasUnit, UNIT.BAR, "the unit"),
        (NS.knownBy, URIRef("urn:x"), "is none of own bench"),
        (QUDT.numericValue, Literal("nonsense"), "could not convert"),
        (QUDT.numericValue, Literal("NaN", datatype=XSD.double), "no finite number"),
        (DCTERMS.bibliographicCitation, None, "nothing says where"),
    ],
)
def test_a_rating_that_cannot_be_used_is_left_out_and_named(graph_of_shop, facts, predicate, value, said) -> None:
    broken = Graph() + graph_of_shop
    pump = named("urn:pinchpoint:", "part", "PY-1110")
    rating = next(r for r in broken.objects(pump, NS.rating) if str(broken.value(r, RDFS.label)) == "flow")
    broken.remove((rating, predicate, None))
    if value is not None:
        broken.add((rating, predicate, value))
    records = read_records(broken)
    (trouble,) = records.troubles
    assert trouble.name == "PY-1110"
    assert trouble.why.startswith("without its flow")
    assert said in trouble.why
    assert next(p for p in records.parts if p.id == "PY-1110").rating("flow") is None


def test_units_of_other_programs_are_converted(graph_of_shop) -> None:
    changed = Graph() + graph_of_shop
    pump = named("urn:pinchpoint:", "part", "PY-1110")
    rating = next(r for r in changed.objects(pump, NS.rating) if str(changed.value(r, RDFS.label)) == "flow")
    changed.set((rating, QUDT.numericValue, exact(240.0)))
    changed.set((rating, QUDT.hasUnit, UNIT["L-PER-HR"]))
    value = next(p for p in read_records(changed).parts if p.id == "PY-1110").rating("flow").value
    assert value == pytest.approx(240.0 * constants.liter / constants.hour, rel=1e-12)


def test_a_rating_comes_from_the_load_that_still_had_its_row(demo_book, tmp_path) -> None:
    database = open_database(f"sqlite:///{tmp_path}/shop.sqlite")
    store_book(database, demo_book, who="first", version="0")
    pump = next(p for p in demo_book.parts if p.id == "PY-1110")
    with database.write() as unit:  # a newer file of that name, in which row 18 is another part
        load = unit.record_load(name="parts-fuel.ods", sha256="e" * 64, who="second", tool_version="0")
        row = SheetRow(file="parts-fuel.ods", sheet="Fuel", number=18, cells={"No.": "PY-9"}, outcome="loaded")
        held = SheetRow(
            file="parts-fuel.ods", sheet="Fuel", number=19, cells={"No.": "PY-8"}, outcome="held", note="why"
        )
        unit.record_rows(load, [row, held])
    with database.read() as view:
        facts = gather(view)
    assert facts.origin(pump.ratings[0].evidence.source).who == "first"
    assert [(h.begins, h.why, h.source) for h in facts.held] == [
        ("PY-8", "why", "parts-fuel.ods, sheet 'Fuel', row 19")
    ]
