"""Commands for a car that has come in: what to suspect, where to look next, and what a pull on the rollers says."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from graph.service import View
    from graph.symptom import Knowledge


def register(main: click.Group) -> None:
    """Add the commands to the program.

    Parameters
    ----------
    main : click.Group
        The program.
    """
    main.add_command(_arrive_command())
    main.add_command(_pull_command())


def _split(text: str | None) -> tuple[str, ...]:
    return tuple(filter(None, (word.strip() for word in (text or "").split(","))))


def _knowledge(folder: Path | None) -> Knowledge:
    from ingest.symptom import read_knowledge
    from ui.cli import seed_folder

    book = read_knowledge(folder or seed_folder() / "knowledge")
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
    @click.option("--log", type=click.Path(path_type=Path), help="A log whose signs are added to those named.")
    @click.option("--minutes", default="60 min", help="Time agreed; a bare number is in minutes.", show_default=True)
    @click.option("--knowledge", type=click.Path(path_type=Path), help="Folder with the sheets of faults and signs.")
    @_shared
    @click.pass_context
    def arrive(
        context: click.Context,
        /,
        car: str,
        log: Path | None,
        knowledge: Path | None,
        url: str | None,
        as_json: bool,
        **said: str | None,
    ) -> None:
        """Suspects, next looks and the roller gate of a car that was modified elsewhere."""
        from graph.arrive import Arrival
        from graph.arrive import arrive as receive
        from graph.quantity import Quantity
        from ingest.symptom import find_sign
        from ui.arrival_document import arrive_document
        from ui.arrival_text import arrive_lines
        from ui.cli import _foreseen, _open, _print, _settings, _value

        given, wants_json = _settings(context, url, as_json)
        with _foreseen():
            known = _knowledge(knowledge)
            agreed = _value(said["minutes"], Quantity.DURATION, "--minutes", "min")
            present = [find_sign(s, known).id for s in _split(said["symptom"])]
            absent = [find_sign(s, known).id for s in _split(said["absent"])]
            if log is not None:
                more, gone = _signs_in(log, known)
                present += [s for s in more if s not in absent]
                absent += [s for s in gone if s not in present]
            arrival = Arrival(
                present=tuple(dict.fromkeys(present)),
                absent=tuple(dict.fromkeys(absent)),
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
            click.echo("\n".join(arrive_lines(reception)))
        sys.exit(0)

    return arrive


def _signs_in(log: Path, known: Knowledge) -> tuple[list[str], list[str]]:
    """Signs that a log shows, and signs that it shows to be away."""
    from graph.pull import find_events, seen_in
    from graph.session import judge_session
    from ingest.log import read_log

    book = read_log(log)
    for problem in book.problems:
        click.echo(problem.sentence, err=True)
    reading = book.reading
    events = find_events(reading.pull)[0] if reading.pull is not None else ()
    if reading.series is not None:
        events = judge_session(reading.series).events
    seen, keys = seen_in(events), {s.id for s in known.signs}
    return [s for s in seen.present if s in keys], [s for s in seen.absent if s in keys]


def _pull_command() -> click.Command:
    from ui.cli import EPILOG, _shared

    @click.command(name="pull", epilog=EPILOG)
    @click.argument("car")
    @click.argument("log", type=click.Path(path_type=Path))
    @click.option(
        "--basis", type=click.Choice(["crank", "wheel"]), help="Where power is counted, and that of a bare one."
    )
    @click.option("--answer", multiple=True, metavar="WHAT=WORD", help="Answer to a question, such as boost=gauge.")
    @click.option("--knowledge", type=click.Path(path_type=Path), help="Folder with the sheets of faults and signs.")
    @_shared
    @click.pass_context
    def pull(
        context: click.Context,
        /,
        car: str,
        log: Path,
        basis: str | None,
        answer: tuple[str, ...],
        knowledge: Path | None,
        url: str | None,
        as_json: bool,
    ) -> None:
        """Events, causes and measured power of a dyno pull or a session."""
        from graph.pull import judge_log
        from ingest.log import read_log
        from ui.arrival_document import pull_document
        from ui.arrival_text import pull_lines
        from ui.cli import DEFECTS, DONE, _foreseen, _open, _print, _settings

        given, wants_json = _settings(context, url, as_json)
        with _foreseen():
            answers = _answers(answer)
            if basis is not None:
                answers.setdefault("power", basis)
            known = _knowledge(knowledge)
            with _open(given).read() as view:
                book = read_log(log, answers, cylinders=_cylinders(view, car))
                report = judge_log(view, car, book.reading, known, basis=basis or "crank")
        if wants_json:
            _print(pull_document(report, book))
        else:
            click.echo("\n".join(pull_lines(report)))
        for problem in book.problems:
            click.echo(problem.sentence, err=True)
        sys.exit(DEFECTS if book.problems else DONE)

    return pull


def _cylinders(view: View, car: str) -> int:
    platforms = {p.id: p for p in view.platforms()}
    for record in view.cars():
        if record.id == car and record.platform in platforms:
            return int(platforms[record.platform].constants.get("cylinders", 4.0))
    return 4


def _answers(given: Iterable[str]) -> dict[str, str]:
    from graph.errors import UsageError
    from ingest.log_column import ANSWERS

    found: dict[str, str] = {}
    for text in given:
        what, _, word = (part.strip().lower() for part in text.partition("="))
        if word not in ANSWERS.get(what, ()):
            known = "; ".join(f"{name}={'|'.join(words)}" for name, words in ANSWERS.items())
            raise UsageError(f"--answer: found {text!r}, known: {known}")
        found[what] = word
    return found
