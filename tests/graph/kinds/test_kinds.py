"""Every part kind is whole, names only what exists, and keeps to the rules for kinds.

Nothing here has a value from outside: these are rules of the house, read from the objects and from the source text.
"""

import ast
import importlib
import math
import re
from pathlib import Path

import pytest

import graph.kinds
from graph.kinds import discover
from graph.limit import LINKED, SHARED, Axis, Kind
from graph.model import Operation
from graph.operation import PATH_FIELDS, PLATFORM_CONSTANTS
from graph.quantity import Quantity
from ui.caution import CAUTIONS

FOLDER = Path(graph.kinds.__file__).parent
KINDS = discover()
AREAS = {"Fuel", "Air", "Exhaust", "Engine", "Drive", "Cooling", "Chassis", "Control"}
#: What a text must not promise, whatever the part.
PROMISES = re.compile(r"\b(safe(ly)?|guarantee[ds]?|legal(ly)?|adds \d+)\b", re.IGNORECASE)
#: SI unit of every field of the engine's state that a rule may take as its demand as it stands.
STATE_UNITS = {
    "speed": "1/s",
    "torque": "N.m",
    "air_flow": "kg/s",
    "fuel_flow": "kg/s",
    "exhaust_flow": "kg/s",
    "gate_flow": "kg/s",
    "turbine_flow": "kg/s",
    "manifold_pressure": "Pa",
    "boost_pressure": "Pa",
    "compressor_inlet_pressure": "Pa",
    "compressor_outlet_pressure": "Pa",
    "turbine_inlet_pressure": "Pa",
    "turbine_outlet_pressure": "Pa",
    "peak_pressure": "Pa",
    "charge_temperature": "K",
    "compressor_outlet_temperature": "K",
    "exhaust_temperature": "K",
    "coolant_heat": "W",
    "oil_heat": "W",
    "spark_density": "kg/m3",
    "phasing": "rad",
    "best_phasing": "rad",
}

every_kind = pytest.mark.parametrize("kind", KINDS.values(), ids=list(KINDS))
every_rating = pytest.mark.parametrize(
    "spec", [pytest.param(s, id=f"{k.name}-{s.name}") for k in KINDS.values() for s in k.ratings]
)
every_rule = pytest.mark.parametrize(
    ("kind", "rule"), [pytest.param(k, r, id=f"{k.name}-{r.name}") for k in KINDS.values() for r in k.limits]
)


def source(kind: Kind) -> ast.Module:
    """The kind's file, parsed."""
    return ast.parse((FOLDER / f"{kind.name}.py").read_text(encoding="utf-8"))


def calls(tree: ast.AST, owner: str, method: str) -> list[ast.Call]:
    """Calls such as ``own.value(...)`` in a tree."""
    return [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr == method
        and isinstance(node.func.value, ast.Name)
        and node.func.value.id == owner
    ]


def text(node: ast.expr) -> str:
    """The words of a literal."""
    assert isinstance(node, ast.Constant)
    assert isinstance(node.value, str)
    return node.value


def rules_in(kind: Kind) -> dict[str, dict[str, ast.expr]]:
    """For each rule of a kind's file, by name, its keyword arguments."""
    found = {}
    for node in ast.walk(source(kind)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "LimitRule":
            given = {k.arg: k.value for k in node.keywords if k.arg is not None}
            found[text(given["name"])] = given
    return found


# --- names ------------------------------------------------------------------------------------------------------------


def test_every_file_of_the_folder_is_found() -> None:
    assert set(KINDS) == {p.stem for p in FOLDER.glob("*.py")} - {"__init__"}


@every_kind
def test_a_module_is_named_like_its_kind(kind: Kind) -> None:
    module = importlib.import_module(f"graph.kinds.{kind.name}")
    assert module.KIND is kind
    assert re.fullmatch(r"[a-z][a-z_]*[a-z]", kind.name)


def test_labels_are_unique() -> None:
    labels = [k.label for k in KINDS.values()]
    assert sorted({label for label in labels if labels.count(label) > 1}) == []


def test_no_name_leads_to_two_kinds() -> None:
    names = [(name, k.name) for k in KINDS.values() for name in {k.label, k.name.replace("_", " "), *k.synonyms}]
    owners: dict[str, set[str]] = {}
    for name, kind in names:
        owners.setdefault(name, set()).add(kind)
    assert {name: kinds for name, kinds in owners.items() if len(kinds) > 1} == {}


@every_kind
def test_synonyms_are_lower_case_and_said_once(kind: Kind) -> None:
    assert kind.synonyms, "a sheet must be able to name the place in other words"
    assert len(set(kind.synonyms)) == len(kind.synonyms)
    for name in (kind.label, *kind.synonyms):
        assert name == name.strip().lower()
        assert "_" not in name


@every_kind
def test_ratings_and_rules_have_names_of_their_own(kind: Kind) -> None:
    for names in ([s.name for s in kind.ratings], [r.name for r in kind.limits]):
        assert len(set(names)) == len(names)


# --- texts ------------------------------------------------------------------------------------------------------------


@every_kind
def test_a_kind_says_what_it_is(kind: Kind) -> None:
    assert kind.area in AREAS
    assert len(kind.does.split()) >= 3
    assert not kind.does.endswith(".")
    document = ast.get_docstring(source(kind))
    assert document is not None
    assert document.endswith(".")


@every_kind
def test_a_kind_has_limits_or_says_why_it_has_none(kind: Kind) -> None:
    if kind.limits:
        assert kind.no_limit is None
    else:
        assert kind.no_limit is not None
        assert len(kind.no_limit.split()) >= 4


@every_kind
def test_each_caution_can_be_printed(kind: Kind) -> None:
    assert set(kind.cautions) <= set(CAUTIONS)
    assert len(set(kind.cautions)) == len(kind.cautions)


@every_rule
def test_a_rule_has_its_sentences(kind: Kind, rule) -> None:
    assert len(rule.why.split()) >= 5
    assert len(rule.consequence.split()) >= 3
    assert len(rule.source.split()) >= 3
    for sentence in (rule.why, rule.consequence, rule.source):
        assert sentence == sentence.strip()
        assert not sentence.endswith(".")
    assert rule.no_ceiling is None or len(rule.no_ceiling.split()) >= 5


@every_kind
def test_no_text_promises(kind: Kind) -> None:
    said = [kind.label, kind.does, kind.no_limit or ""]
    said += [t for s in kind.ratings for t in (s.label, s.default_source)]
    said += [t for r in kind.limits for t in (r.name, r.why, r.consequence, r.source, r.no_ceiling or "")]
    assert [t for t in said if PROMISES.search(t)] == []


# --- ratings ----------------------------------------------------------------------------------------------------------


@every_rating
def test_a_plausible_range_is_ordered(spec) -> None:
    low, high = spec.plausible
    assert isinstance(low, float)
    assert isinstance(high, float)
    assert 0.0 <= low < high < math.inf
    # Where the zero of a unit is far below what a part can be, the range must not start there.
    if spec.quantity is Quantity.TEMPERATURE:
        assert low > 200.0


@every_rating
def test_a_default_is_plausible_marked_optional_and_sourced(spec) -> None:
    if spec.default is None:
        return
    assert spec.plausible[0] <= spec.default <= spec.plausible[1]
    assert not spec.required
    assert len(spec.default_source.split()) >= 3


@every_rating
def test_conditions_hold_numbers_or_words(spec) -> None:
    names = [c.name for c in spec.conditions]
    assert len(set(names)) == len(names)
    for condition in spec.conditions:
        if condition.quantity is None:
            assert condition.words
            assert condition.default is None or condition.default in condition.words
        else:
            assert condition.words == ()
            assert condition.default is None or isinstance(condition.default, float)
        assert not (condition.required and condition.default is not None)


@every_rating
def test_a_label_says_more_than_the_name(spec) -> None:
    assert spec.label != spec.name or len(spec.label.split()) >= 2
    assert not spec.label.endswith(".")


# --- rules ------------------------------------------------------------------------------------------------------------


@every_rule
def test_a_rule_names_a_rating_of_its_kind(kind: Kind, rule) -> None:
    assert rule.rating in {s.name for s in kind.ratings}
    assert isinstance(rule.axis, Axis)


@every_rule
def test_what_a_rule_needs_is_offered_by_a_kind(kind: Kind, rule) -> None:
    offered = {feed.parameter for k in KINDS.values() for feed in k.offers}
    assert set(rule.needs) <= set(SHARED)
    assert set(rule.needs) <= offered


@every_kind
def test_feeds_and_offers_exist(kind: Kind) -> None:
    assert {f.parameter for f in kind.feeds} <= set(PATH_FIELDS)
    assert {f.parameter for f in kind.offers} <= set(SHARED)
    assert {f.parameter for f in kind.links} <= set(LINKED)


@every_rule
def test_a_bare_rating_or_state_has_the_quantity_of_its_rule(kind: Kind, rule) -> None:
    """Where demand or capacity is read as it stands, its unit is that of the rule; the rest is reckoned elsewhere."""
    given = rules_in(kind)[rule.name]
    spec = kind.rating(rule.rating)
    for side in ("demand", "capacity"):
        lambda_ = given[side]
        assert isinstance(lambda_, ast.Lambda)
        body = lambda_.body
        if isinstance(body, ast.Call) and body in calls(body, "own", "value"):
            read = kind.rating(text(body.args[0]))
            assert read.quantity is rule.quantity
            if side == "capacity":
                assert read is spec
        if isinstance(body, ast.Attribute) and isinstance(body.value, ast.Name) and body.value.id == "op":
            assert STATE_UNITS[body.attr] == rule.quantity.unit
        if isinstance(body, ast.Call) and body in calls(body, "setting", "constant"):
            assert rule.quantity.unit == "Pa"  # the only constant taken bare is the rail pressure


def test_the_units_of_the_state_cover_it() -> None:
    assert set(STATE_UNITS) == set(Operation.__dataclass_fields__) - {"cause"}


@every_kind
def test_a_file_reads_only_ratings_and_conditions_that_it_declares(kind: Kind) -> None:
    tree = source(kind)
    for call in calls(tree, "own", "value"):
        spec = kind.rating(text(call.args[0]))
        assert bool(call.keywords) == (spec.over is not None), "a curve needs a point to be read at, a number none"
    for method in ("condition", "word"):
        for call in calls(tree, "own", method):
            spec = kind.rating(text(call.args[0]))
            condition = next(c for c in spec.conditions if c.name == text(call.args[1]))
            assert condition.default is not None or condition.required
            assert (condition.quantity is None) == (method == "word")


@every_kind
def test_a_file_reads_only_constants_that_a_platform_states(kind: Kind) -> None:
    assert {text(c.args[0]) for c in calls(source(kind), "setting", "constant")} <= set(PLATFORM_CONSTANTS)


@every_rule
def test_what_a_rule_takes_from_other_parts_it_needs(kind: Kind, rule) -> None:
    given = rules_in(kind)[rule.name]
    taken = {
        text(node.slice)
        for side in ("demand", "capacity")
        for node in ast.walk(given[side])
        if isinstance(node, ast.Subscript)
    }
    assert taken == set(rule.needs)


# --- what a kind's file may hold --------------------------------------------------------------------------------------


@every_kind
def test_kinds_know_nothing_of_each_other(kind: Kind) -> None:
    for node in ast.walk(source(kind)):
        if isinstance(node, ast.Import):
            pytest.fail(f"plain import of {node.names[0].name}")
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0
            assert node.module in {"graph.limit", "graph.physics", "graph.quantity"}


@every_kind
def test_a_kind_does_no_arithmetic(kind: Kind) -> None:
    """Formulas belong to the physics; a complement ``1.0 - own.value(...)`` is as far as a kind may go."""
    tree = source(kind)
    for node in ast.walk(tree):
        assert not isinstance(node, ast.AugAssign | ast.FunctionDef | ast.IfExp | ast.BoolOp | ast.Compare)
        if isinstance(node, ast.BinOp):
            one = isinstance(node.left, ast.Constant) and node.left.value == 1.0
            assert one
            assert isinstance(node.op, ast.Sub)
            assert node.right in calls(tree, "own", "value")
        if isinstance(node, ast.UnaryOp):
            assert isinstance(node.op, ast.USub)


@every_kind
def test_a_file_holds_one_constant(kind: Kind) -> None:
    body = source(kind).body
    assigned = [node for node in body if not isinstance(node, ast.ImportFrom | ast.Expr)]
    assert len(assigned) == 1
    assert isinstance(assigned[0], ast.Assign)
    assert [t.id for t in assigned[0].targets if isinstance(t, ast.Name)] == ["KIND"]
