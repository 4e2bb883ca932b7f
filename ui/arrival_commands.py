"""Commands for a car that has come in: what to suspect, where to look next, and what a pull on the rollers says."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from graph.arrive import Reception
    from graph.symptom import Knowledge


def register(main: click.Group) -> None:
    """Add the commands to the program.

    Parameters
    ----------
    main : click.Group
        The program.
    """
    main.add_command(_arrive_command())


def _split(text: str | None) -> tuple[str, ...]:
    return tuple(filter(None, (word.strip() for word in (text or "").split(","))))


def _knowledge(folder: Path | None) -> Knowledge:
    from ingest.symptom import read_knowledge
    from ui.cli import _seed_folder

    book = read_knowledge(folder or _seed_folder() / "knowledge")
    for problem in book.problems:
        click.echo(problem.sentence, err=True)
    return book.knowledge


def _arrive_command() -> click.Command:
    from ui.cli import EPILOG, _shared

    @click.command(name="arrive", epilog=EPILOG)
    @click.argument("car")
    @click.option("--symptom", help="Signs that are there, separated by commas: keys, words or numbers of the list.")
    @click.option("--absent", help="Signs that were looked for and are not there.")
    @click.option("--done", help="Inspections already made; enter what they showed with --symptom and --absent.")
    @click.option("--checked", help="Looked at and fine: oil, coolant, brakes, leaks, tyres, straps, extraction.")
    @click.option("--faulty", help="Looked at and not fine, of the same list.")
    @click.option("--repaired", help="Done and recorded: oil change, leak repair.")
    @click.option("--minutes", default="60 min", help="Time agreed; a bare number is in minutes.", show_default=True)
    @click.option("--knowledge", type=click.Path(path_type=Path), help="Folder with the sheets of faults and signs.")
    @_shared
    @click.pass_context
    def arrive(
        context: click.Context, /, car: str, knowledge: Path | None, url: str | None, as_json: bool, **said: str | None
    ) -> None:
        """Suspects, next looks and the roller gate of a car that was modified elsewhere."""
        from graph.arrive import Arrival
        from graph.arrive import arrive as receive
        from graph.quantity import Quantity
        from ingest.symptom import find_sign
        from ui.cli import _foreseen, _open, _print, _settings, _value

        given, wants_json = _settings(context, url, as_json)
        with _foreseen():
            known = _knowledge(knowledge)
            agreed = _value(said["minutes"], Quantity.DURATION, "--minutes", "min")
            arrival = Arrival(
                present=tuple(dict.fromkeys(find_sign(s, known).id for s in _split(said["symptom"]))),
                absent=tuple(dict.fromkeys(find_sign(s, known).id for s in _split(said["absent"]))),
                done=_split(said["done"]),
                checked=_split(said["checked"]),
                faulty=_split(said["faulty"]),
                repaired=_split(said["repaired"]),
                agreed=agreed if agreed is not None else 3600.0,
            )
            with _open(given).read() as view:
                reception = receive(view, car, known, arrival)
        if wants_json:
            _print(arrive_document(reception))
        else:
            click.echo("\n".join(_arrive_lines(reception)))
        sys.exit(0)

    return arrive


def arrive_document(reception: Reception) -> dict[str, Any]:
    """A reception as a document.

    Parameters
    ----------
    reception : Reception
        The answer [SI].

    Returns
    -------
    dict
        Units in the names of the fields.
    """
    gate = reception.gate
    return {
        "schema": "pinchpoint.arrive/1",
        "car": reception.car,
        "range_kW": [round(reception.low / 1e3, 1), round(reception.high / 1e3, 1)],
        "suspects": [
            {
                "fault": s.fault,
                "name": s.name,
                "slot": s.slot,
                "probability": round(s.probability, 4),
                "prior": round(s.prior, 4),
                "for": list(s.evidence_for),
                "against": list(s.evidence_against),
            }
            for s in reception.suspects
        ],
        "inspections": [
            {
                "what": look.name,
                "id": look.inspection,
                "minutes": round(look.duration / 60.0),
                "wait_days": round(look.wait / 86400.0, 1),
                "value": round(look.value, 5),
                "value_per_minute": round(look.rate * 60.0, 6),
                "why": look.why,
            }
            for look in reception.looks
        ],
        "roller_gate": {
            "go": gate.go,
            "blocked_by": list(gate.blocked_by),
            "stop_criteria": list(gate.stop_criteria),
            "cautions": list(gate.cautions),
        },
        "slots": [
            {
                "slot": p.slot.name,
                "part": p.part.id if p.part is not None else None,
                "belief": p.belief.value,
                "claim": p.claim,
                "taken_as": p.unknown,
            }
            for p in reception.places
        ],
    }


def _listed(title: str, lines: Iterable[str]) -> list[str]:
    found = [f"  {line}" for line in lines]
    return [title, *found] if found else []


def _arrive_lines(reception: Reception) -> list[str]:
    gate = reception.gate
    lines = [
        f"{reception.car}: {'may go on the rollers' if gate.go else 'NOT on the rollers yet'}; "
        f"carries between {reception.low / 1e3:.0f} and {reception.high / 1e3:.0f} kW, claimed parts undecided"
    ]
    lines += _listed("Blocked by", gate.blocked_by)
    lines.append("Suspects (several may be true at once)")
    for s in reception.suspects[:8]:
        lines.append(f"  {s.probability * 100:3.0f} %  {s.name}")
        lines += [f"         for: {text}" for text in s.evidence_for[:4]]
        lines += [f"         against: {text}" for text in s.evidence_against[:2]]
    lines += _listed(
        "Look next, most settled per minute first (enter each result and ask again)",
        (f"{look.duration / 60.0:3.0f} min  {look.name}: {look.why}" for look in reception.looks),
    )
    claimed = [p for p in reception.places if p.belief.value in ("claimed", "unknown")]
    lines += _listed("Not seen yet", (f"{p.slot.name}: {p.unknown or p.claim}" for p in claimed))
    lines += _listed("Stop the run at", gate.stop_criteria)
    lines += _listed("Cautions", gate.cautions)
    return lines
