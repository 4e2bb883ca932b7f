"""The search against every choice tried one by one, and against an independent model in CP-SAT.

Brute force is the source of every expected cost here: the product of all options, with the price of the set computed
from the whole set. The verdicts are lots, so that nothing can be monotone by chance.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from ortools.sat.python import cp_model

from graph.errors import UnknownName
from graph.model import Relation, RelationKind
from graph.plan.choice import gather
from graph.plan.conflict import irreducible
from graph.plan.labour import HOUR
from graph.plan.search import Search
from graph.plan.wish import Wishes

SEEDS = range(240)


@pytest.mark.parametrize("decade", range(0, len(SEEDS), 24))
def test_same_cost_as_every_choice_tried(decade, small, trial):
    feasible = 0
    for seed in range(decade, decade + 24):
        choices, tariff, table = small(seed)
        found = Search(choices, table, tariff).run()
        expected = trial(choices, tariff, table.good)
        assert found.ended
        if expected is None:
            assert found.selection is None, seed
            continue
        feasible += 1
        assert found.selection is not None, seed
        assert table.good(found.selection)
        assert choices.sound(found.selection)
        assert found.net == pytest.approx(expected, abs=1e-4), seed
        assert found.bound == pytest.approx(expected, abs=1e-4)
    assert feasible >= 6


def test_full_check_that_refuses_leads_to_the_next_cheapest(small, trial):
    tried = 0
    for seed in range(60):
        choices, tariff, table = small(seed)
        first = Search(choices, table, tariff).run()
        if first.selection is None:
            continue
        refused = {first.selection}
        table.confirm = lambda selection, refused=refused: tuple(selection) not in refused
        second = Search(choices, table, tariff).run()
        good = trial(choices, tariff, lambda s, t=table, r=refused: t.good(s) and s not in r)
        if second.net is not None:
            # nothing cheaper is good; an option that beats nothing in any sample is not tried in its place
            assert second.selection not in refused
            assert first.net - 1e-6 <= good <= second.net + 1e-4
        tried += 1
    assert tried > 20


@pytest.mark.parametrize("seed", range(0, 60, 4))
def test_same_cost_as_an_independent_constraint_model(seed, small):
    """Bonds and shared labour in CP-SAT; the lots enter as tables over the core."""
    choices, tariff, table = small(seed)
    table.least = 0
    found = Search(choices, table, tariff).run()
    model = cp_model.CpModel()
    take = {
        (s, i): model.new_bool_var(f"{s}.{i}") for s, options in enumerate(choices.options) for i in range(len(options))
    }
    for s, options in enumerate(choices.options):
        model.add_exactly_one(take[s, i] for i in range(len(options)))
    for needs in choices.needs.values():
        for need in needs:
            model.add_bool_or([take[need.of].negated(), *(take[k] for k in need.by)])
    for clashes in choices.clashes.values():
        for clash in clashes:
            a, b = clash.pair
            model.add_bool_or([take[a].negated(), take[b].negated(), *(take[k] for k in clash.bridges)])
    for c in range(len(choices.options[2])):
        if not table.engine({2: c}):
            model.add(take[2, c] == 0)
        for key in take:
            if not table.clear({2: c}, *key):
                model.add_bool_or([take[2, c].negated(), take[key].negated()])
        for a in range(len(choices.options[0])):
            for b in range(len(choices.options[1])):
                for said in range(len(choices.options[5])):
                    car = table.settle([{2: c, 0: a, 1: b, 5: said}])[0]
                    here = [take[k].negated() for k in ((2, c), (0, a), (1, b), (5, said))]
                    if not car.engine:
                        model.add_bool_or(here)
                    for key in take:
                        if not car.allowed(*key):
                            model.add_bool_or([*here, take[key].negated()])
    terms = []
    free = {}
    for key, variable in take.items():
        part = choices.options[key[0]][key[1]].bought
        if part is None:
            continue
        kits = [
            take[other]
            for other, _ in take.items()
            if (kit := choices.options[other[0]][other[1]].bought) is not None
            and any(
                r.kind is RelationKind.MEMBER and part.id in [n.strip() for n in r.part.split("|")]
                for r in kit.relations
            )
        ]
        paid = model.new_bool_var("paid")
        model.add_bool_or([variable.negated(), paid, *kits])
        for kit in kits:
            model.add_implication(paid, kit.negated())
        model.add_implication(paid, variable)
        free[key] = paid
        terms.append(round((part.price + part.labour / HOUR * 95.0) * 100) * paid)
    operations = {}
    for key, paid in free.items():
        for row in tariff.operations(choices.options[key[0]][key[1]].bought):
            operations.setdefault(row.operation, []).append((paid, row))
    for rows in operations.values():
        doing = model.new_bool_var("doing")
        model.add_max_equality(doing, [p for p, r in rows if r.does] or [model.new_constant(0)])
        largest = model.new_int_var(0, 10**7, "largest")
        model.add_max_equality(
            largest, [round(r.duration / HOUR * 9500) * p for p, r in rows if r.does] or [model.new_constant(0)]
        )
        together = sum(round(r.duration / HOUR * 9500) * p for p, r in rows)
        saved = model.new_int_var(0, 10**7, "saved")
        model.add(saved == together - largest).only_enforce_if(doing)
        model.add(saved == 0).only_enforce_if(doing.negated())
        terms.append(-saved)
    model.minimize(sum(terms))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        assert found.selection is None
        return
    assert status == cp_model.OPTIMAL
    assert found.net == pytest.approx(solver.objective_value / 100.0, abs=0.02)


def bond(kind, other):
    return Relation(kind=RelationKind(kind), part=other, text=f"{kind} {other}")


@pytest.fixture
def plain(small):
    """A catalogue with two purchasable parts in two slots and no bonds."""
    choices, tariff, table = small(3)
    build = choices.build
    fresh = {s: build.places[s].part for s in (5, 6)}
    parts = [
        *[p.part for p in build.places],
        *(
            replace(part, id=f"N-{s}", name=f"N-{s}", factory=False, price=100.0 * s, labour=0.0)
            for s, part in fresh.items()
        ),
    ]

    def opened(relations=None, wishes=None):
        listed = [replace(p, relations=tuple(relations.get(p.id, ()))) for p in parts] if relations else parts
        found = gather(build, listed, None, (), wishes or Wishes(calibrate=False), power=1.0e5)
        table.choices, table.least = found, 0
        table.engine = lambda _: True
        table.clear = lambda _, slot, option: slot != 5 or option == 1
        table.settle = lambda cores: [Everything() for _ in cores]
        table.glance = lambda cores: [() for _ in cores]
        return found, tariff, table

    return opened


class Everything:
    """A car in which everything is allowed."""

    engine, engine_survival = True, (1 << 64) - 1

    def allowed(self, *_):
        return True

    def survival(self, *_):
        return (1 << 64) - 1


def bought(found, choices):
    return sorted(p.id for p in choices.bought(found.selection))


def test_only_what_is_needed_is_bought(plain):
    choices, tariff, table = plain()
    found = Search(choices, table, tariff).run()
    assert bought(found, choices) == ["N-5"]
    assert found.net == pytest.approx(500.0)


def test_requirements_in_a_circle_are_met_together(plain):
    choices, tariff, table = plain({"N-5": [bond("requires", "N-6")], "N-6": [bond("requires", "N-5")]})
    assert bought(Search(choices, table, tariff).run(), choices) == ["N-5", "N-6"]


def test_part_that_requires_itself_is_its_own_fulfilment(plain):
    choices, tariff, table = plain({"N-5": [bond("requires", "N-5")]})
    assert bought(Search(choices, table, tariff).run(), choices) == ["N-5"]


def test_part_that_requires_what_the_book_lacks_cannot_be_fitted(plain):
    choices, tariff, table = plain({"N-5": [bond("requires", "Z-9")]})
    assert Search(choices, table, tariff).run().selection is None


def test_either_of_two_alternatives_meets_a_requirement(plain):
    choices, tariff, table = plain({"N-5": [bond("requires", "Z-9 | N-6")]})
    assert bought(Search(choices, table, tariff).run(), choices) == ["N-5", "N-6"]


def test_excluded_part_and_the_one_that_excludes_it_never_meet(plain):
    choices, tariff, table = plain({"N-5": [bond("requires", "N-6")], "N-6": [bond("excludes", "N-5")]})
    assert Search(choices, table, tariff).run().selection is None


def test_part_that_a_bought_one_includes_costs_nothing(plain):
    choices, tariff, table = plain({"N-5": [bond("requires", "N-6"), bond("member", "N-6")]})
    assert Search(choices, table, tariff).run().net == pytest.approx(500.0)


def test_slot_that_must_stay_and_must_change_has_no_plan(plain):
    choices, tariff, table = plain(wishes=Wishes(keep=frozenset({"pump controller"}), calibrate=False))
    assert Search(choices, table, tariff).run().selection is None


def test_keeping_a_slot_whose_part_is_forbidden_has_no_plan(plain):
    wishes = Wishes(keep=frozenset({"plugs"}), forbid=frozenset({"F-6"}), calibrate=False)
    choices, tariff, table = plain(wishes=wishes)
    assert Search(choices, table, tariff).run().selection is None


def test_slot_and_part_that_do_not_exist_are_named(plain):
    with pytest.raises(UnknownName, match="slot"):
        plain(wishes=Wishes(keep=frozenset({"sunroof"})))
    with pytest.raises(UnknownName, match="part"):
        plain(wishes=Wishes(forbid=frozenset({"Z-9"})))


def test_budget_below_the_cheapest_set_has_no_plan_and_says_from_where(plain):
    choices, tariff, table = plain()
    found = Search(choices, table, tariff).run(budget=499.0)
    assert found.selection is None
    assert found.bound == pytest.approx(500.0)


def test_time_that_has_run_out_leaves_a_bound_below_what_was_found(small):
    choices, tariff, table = small(1)
    full, stopped = Search(choices, table, tariff).run(), Search(choices, table, tariff).run(deadline=0.0)
    assert not stopped.ended
    assert full.net is None or stopped.bound <= full.net + 1e-6


def test_irreducible_conflict_needs_each_of_its_reasons():
    """Hand example: the plan fails exactly where 'b' and 'd', or 'b', 'c' and 'e', are held together."""

    def feasible(held):
        return not ({"b", "d"} <= held or {"b", "c", "e"} <= held)

    found = irreducible("abcdef", feasible)
    assert not feasible(frozenset(found))
    assert all(feasible(frozenset(found) - {one}) for one in found)


def test_reasons_that_go_together_are_no_conflict():
    assert irreducible("abc", lambda _: True) == ()
