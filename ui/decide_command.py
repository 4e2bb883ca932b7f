"""The command that records what a customer decided, line by line, and lists what is still open."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from ui.amount import Amount

if TYPE_CHECKING:
    from graph.decision import Decision
    from graph.store import View


def register(main: click.Group) -> None:
    """Add the command to the program.

    Parameters
    ----------
    main : click.Group
        The program.
    """
    main.add_command(_decide_command())


def known_lines(view: View, car: str) -> dict[str, bool]:
    """Lines that can be decided for a car, and whether declining them can do harm.

    Parameters
    ----------
    view : View
        The book.
    car : str
        Id of the car.

    Returns
    -------
    dict of str to bool
        The ways, the look, the brakes, leaving it, and every slot of the car's platform; True where a limit of the
        place protects from damage.

    Raises
    ------
    UnknownName
        No such car.
    """
    from graph.decision import BRAKES, LOOK, NOTHING, WAYS
    from graph.kinds import discover
    from graph.limit import LimitKind
    from graph.service import find_record

    kinds = discover()
    record = find_record("car", car, view.cars())
    platform = find_record("platform", record.platform, view.platforms())
    slots = {
        s.name: s.kind in kinds and any(rule.kind is LimitKind.PROTECTIVE for rule in kinds[s.kind].limits)
        for s in platform.slots
    }
    return {**slots, **dict.fromkeys((*WAYS, LOOK, NOTHING), False), BRAKES: True}


def _decide_command() -> click.Command:
    from ui.cli import EPILOG, _shared

    @click.command(name="decide", epilog=EPILOG)
    @click.argument("car")
    @click.argument("line", required=False)
    @click.argument("answer", required=False, type=click.Choice(["yes", "no", "later"]))
    @click.option("--reason", default="", help="Why, in the customer's words; a declined line needs one.")
    @click.option("--initials", default="", help="Of the customer; needed where what can do harm is declined.")
    @click.option("--power", help="Power that the line offered, such as '305 kW'.")
    @click.option("--total", type=Amount(), help="What it cost with tax, as printed.")
    @click.option("--by", default="", help="Who asked the customer; default: who is signed in.")
    @_shared
    @click.pass_context
    def decide(
        context: click.Context,
        /,
        car: str,
        line: str | None,
        answer: str | None,
        reason: str,
        initials: str,
        power: str | None,
        total: float | None,
        by: str,
        url: str | None,
        as_json: bool,
    ) -> None:
        """Record a decision: LINE is good, better, best, look, brakes, nothing or a slot. Without LINE: what is open."""
        from graph.decision import Answer, Decision, still_open
        from graph.errors import UnknownName, UsageError
        from graph.quantity import Quantity
        from graph.store.notebook import add_notes
        from ui.cli import _foreseen, _open, _print, _settings, _value, version
        from ui.local_user import local_user

        given, wants_json = _settings(context, url, as_json)
        with _foreseen():
            database = _open(given)
            if line is not None and answer is None:
                raise UsageError(f"{line}: found no answer; expected is yes, no or later")
            if line is not None and answer is not None:
                with database.read() as view:
                    lines = known_lines(view, car)
                if line not in lines:
                    raise UnknownName("line", line, list(lines)[-6:] + list(lines)[:-6])
                made = Decision(
                    car=car,
                    line=line,
                    answer=Answer(answer),
                    reason=reason,
                    initials=initials,
                    harmful=lines[line],
                    power=_value(power, Quantity.POWER, "--power"),
                    total=total,
                    by=by,
                )
                with database.write() as unit:
                    add_notes(unit, [made], who=local_user(), tool_version=version())
            with database.read() as view:
                known_lines(view, car)
                kept = view.decisions(car)
        if wants_json:
            _print(decisions_document(car, kept))
        else:
            click.echo("\n".join(decision_lines(still_open(kept))))

    return decide


def decision_lines(decisions: tuple[Decision, ...]) -> list[str]:
    """Open decisions as lines of text."""
    if not decisions:
        return ["nothing was declined or put off"]
    found = []
    for d in decisions:
        what = d.line if d.power is None else f"{d.line}, {d.power / 1e3:.0f} kW"
        why = f": {d.reason}" if d.reason else ""
        signed = f" (initialled {d.initials})" if d.initials else ""
        found.append(f"{d.at[:10]}  {d.answer.value:6}{what}{why}{signed}")
    return found


def decisions_document(car: str, decisions: tuple[Decision, ...]) -> dict[str, object]:
    """Every decision about a car, oldest first, as JSON."""
    from graph.decision import still_open

    open_now = still_open(decisions)
    return {
        "schema": "pinchpoint.decisions/1",
        "car": car,
        "decisions": [
            {
                "line": d.line,
                "answer": d.answer.value,
                "open": d in open_now,
                "reason": d.reason,
                "initials": d.initials,
                "power_kW": None if d.power is None else round(d.power / 1e3, 3),
                "total": d.total,
                "by": d.by,
                "at": d.at,
            }
            for d in decisions
        ],
    }
