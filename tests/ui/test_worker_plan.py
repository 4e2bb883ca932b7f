"""A plan of the pages that cannot be: its reasons come with the shop's patience. Bureau and answers are built by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace

import pytest

from graph.plan.record import Because, Plan, Reason
from graph.proposal import Terms
from graph.report import Report
from graph.service import Request
from ui import worker
from ui.commission import Commission, News

WISH = 340e3
#: Time after which the reasons of the bureau below are complete [s]; longer than a round, shorter than the patience.
NEEDED = 60.0


class Refusing:
    """Refutes every wish at once, and takes its time over the reasons."""

    def __init__(self, report: Report) -> None:
        self.terms = Terms()
        self.report = report
        self.asked: list[tuple[float, float | None]] = []

    def plan(self, power: float, *, budget: float | None = None) -> SimpleNamespace:
        self.asked.append((self.terms.patience, budget))
        reasons = tuple(Reason(because=Because.LIMIT, text=text) for text in ("turbine", "lines", "superfluous"))
        clear = self.terms.patience >= NEEDED
        plan = Plan(
            target=replace(self.report.target, power=power),
            reachable=False,
            proven=True,
            conflict=reasons if not clear else reasons[:2],
            irreducible=clear,
        )
        return SimpleNamespace(plan=plan)


@pytest.fixture
def bureau(make_report: Callable[..., Report], monkeypatch: pytest.MonkeyPatch) -> Refusing:
    made = Refusing(make_report())
    monkeypatch.setattr(worker, "_bureau", lambda _: made)
    monkeypatch.setattr(worker.sweep, "answered", lambda bureau, power: bureau.plan(power).plan)
    return made


@pytest.mark.parametrize("budget", [None, 9000.0])
def test_reasons_of_a_refused_plan_are_complete_and_incomplete_ones_are_not_shown(
    bureau: Refusing, budget: float | None
) -> None:
    commission = Commission(url="", state="", car="car-a", request=Request(power=WISH), terms=Terms(), wishes=None)  # type: ignore[arg-type]
    said: list[News] = []
    worker.plan(said.append, commission, WISH, budget)
    *before, last = said
    assert last.done
    assert last.best.irreducible
    assert [r.text for r in last.best.conflict] == ["turbine", "lines"]
    assert all(not news.best.conflict for news in before if news.best is not None)
    assert {money for _, money in bureau.asked} == {budget}
    assert max(patience for patience, _ in bureau.asked) == Terms().patience
