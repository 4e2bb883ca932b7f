"""Why no plan exists, and what is odd about a book: each conflict is irreducible by brute force, each oddity is said."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from graph.model import Part, Relation, RelationKind
from graph.plan.choice import gather
from graph.plan.conflict import irreducible, needed
from graph.plan.oddity import oddities
from graph.plan.outcome import ENGINE, HOLDS, limit_of
from graph.plan.search import Search
from graph.plan.wish import Wishes


def reasons_of(choices):
    return (ENGINE, *(limit_of(n) for n in choices.names), HOLDS, *choices.reasons())


def tried(choices, table, relaxed):
    """True if any build is good with some reasons left out, every one of them tried."""
    free = {s for s, n in enumerate(choices.names) if limit_of(n) in relaxed}
    trial = replace(choices, relaxed=relaxed)
    for selection in itertools.product(*trial.all()):
        if not trial.sound(selection):
            continue
        car = table.settle([{s: selection[s] for s in (*table.core, *table.linking)}])[0]
        context = {2: selection[2]}
        if ENGINE not in relaxed and not (table.engine(context) and car.engine):
            continue
        slots = [s for s in range(len(selection)) if s not in free]
        if not all(table.clear(context, s, selection[s]) and car.allowed(s, selection[s]) for s in slots):
            continue
        alive = table.full if ENGINE in relaxed else car.engine_survival
        for s in slots:
            alive &= car.survival(s, selection[s])
        if HOLDS in relaxed or alive.bit_count() >= table.least:
            return True
    return False


def test_conflicts_need_each_of_their_reasons_by_brute_force(small):
    """Tight books with every limit a lot: conflicts of three and more reasons are among them."""
    sizes = []
    for seed in range(400, 470):
        choices, tariff, table = small(seed)
        table.openness, table.least = 0.55, 58
        if Search(choices, table, tariff).run().selection is not None:
            continue
        names = reasons_of(choices)
        everything = frozenset(names)

        def feasible(held, choices=choices, tariff=tariff, table=table, everything=everything):
            trial = replace(choices, relaxed=everything - held)
            return Search(trial, table, tariff, confirm=False).run().selection is not None

        found = irreducible(names, feasible)
        if not found:
            continue
        assert not tried(choices, table, everything - set(found)), seed
        for one in found:
            assert tried(choices, table, everything - set(found) | {one}), (seed, one)
        sizes.append(len(found))
    assert len(sizes) >= 10
    assert sum(size >= 3 for size in sizes) >= 3


def tight(small):
    """Books without a plan, as above."""
    for seed in range(400, 470):
        choices, tariff, table = small(seed)
        table.openness, table.least = 0.55, 58
        if Search(choices, table, tariff).run().selection is None:
            yield choices, tariff, table


def test_conflict_that_was_ended_early_is_a_conflict_and_says_so(small):
    """Brute force says that what is named excludes each other; what claims to be irreducible is."""
    ended_early = superfluous = 0
    for choices, tariff, table in tight(small):
        everything = frozenset(reasons_of(choices))
        full, certain = needed(choices, table, tariff)
        assert certain
        for effort in (1, 20):
            found, settled = needed(choices, table, tariff, effort=effort)
            assert bool(found) == bool(full)
            if not found:
                continue
            assert not tried(choices, table, everything - set(found))
            ended_early += not settled
            spare = [one for one in found if not tried(choices, table, everything - set(found) | {one})]
            assert not settled or not spare
            superfluous += bool(spare)
    assert ended_early >= 10
    assert superfluous >= 3


def test_conflict_is_the_same_if_its_first_search_is_known(small):
    for choices, tariff, table in itertools.islice(tight(small), 12):
        assert needed(choices, table, tariff, refuted=True) == needed(choices, table, tariff)


def part(number, kind, *relations, **more):
    stated = tuple(Relation(kind=RelationKind(sort), part=other, text=f"{sort} {other}") for sort, other in relations)
    return Part(id=number, kind=kind, name=number, fits=("p",), price=100.0, relations=stated, **more)


@pytest.fixture
def offered(small):
    """Opens the choices of a car whose book holds some parts."""
    build = small(3)[0].build

    def opened(*parts, **wishes):
        factory = [p.part for p in build.places]
        return gather(build, [*factory, *parts], None, (), Wishes(calibrate=False, **wishes), power=1.0e5)

    return opened


def test_part_that_requires_itself_is_named(offered):
    assert oddities(offered(part("A", "plugs", ("requires", "A")))) == (
        "A requires itself; it is taken as its own fulfilment",
    )


def test_circle_of_requirements_is_named(offered):
    found = oddities(
        offered(
            part("A", "plugs", ("requires", "B")),
            part("B", "rods", ("requires", "C")),
            part("C", "injectors", ("requires", "A")),
        )
    )
    assert found == ("A, B, C require each other; they are fitted together or not at all",)


def test_requirement_that_nobody_offers_is_named(offered):
    found = oddities(offered(part("A", "plugs", ("requires", "Z-1 | Z-2"))))
    assert found == ("A cannot be fitted: it requires Z-1 or Z-2, which is not offered here",)


def test_slot_to_keep_with_a_part_to_forbid_is_named(offered):
    choices = offered(part("A", "plugs"), keep=frozenset({"plugs"}), forbid=frozenset({"F-6"}))
    assert oddities(choices) == ("plugs is to stay as it is, and its part F-6 must not be on the car",)
    assert choices.narrowed(choices.all()) is None


def test_book_without_parts_leaves_the_car_as_it_is(offered):
    choices = offered()
    assert oddities(choices) == ()
    assert all(len(found) == 1 for found in choices.options)


def numbers(choices, slot):
    return {o.part.id for o in choices.options[choices.names.index(slot)] if o.part is not None}


def test_replaced_part_is_offered_only_from_the_shelf(offered):
    new = part("N", "plugs", ("supersedes", "A | B"))
    choices = offered(new, part("A", "plugs", stock=0), part("B", "plugs", stock=1))
    assert numbers(choices, "plugs") == {"F-6", "N", "B"}


def test_only_what_is_there_in_time_is_bought(offered):
    """Shelf, 3 days, 9 days, unknown: asked within 5 days."""
    day = 86400.0
    choices = offered(
        part("A", "plugs", stock=1),
        part("B", "plugs", lead_time=3 * day),
        part("C", "plugs", lead_time=9 * day),
        part("D", "plugs"),
        within=5 * day,
    )
    found = {o.part.id for o in choices.options[choices.names.index("plugs")] if not o.barred}
    assert found == {"F-6", "A", "B"}
