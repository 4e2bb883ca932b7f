"""Commands for a car that has come in: what to suspect, where to look next, and what a pull on the rollers says."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from graph.comparison import Comparison
    from graph.note import Fact
    from graph.pull import PullReport
    from graph.service import View
    from graph.store import Database
    from graph.symptom import Knowledge
    from ingest.log import LogBook


def register(main: click.Group) -> None:
    """Add the commands to the program.

    Parameters
    ----------
    main : click.Group
        The program.
    """
    main.add_command(_arrive_command())
    main.add_command(_pull_command())


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
    @click.option("--minutes", help="Time agreed; a bare number is in minutes. Left out: as on record, else 60.")
    @click.option(
        "--fact", "facts", multiple=True, metavar="KEY=TEXT", help="Fluids, codes, fuel, software: see --facts."
    )
    @click.option("--facts", "list_facts", is_flag=True, help="List what is asked of every car that comes in.")
    @click.option("--record", is_flag=True, help="Keep what is said here; later answers count it in.")
    @click.option("--by", default="", help="Who says it; you, where it is left out.")
    @click.option("--knowledge", type=click.Path(path_type=Path), help="Folder with the sheets of faults and signs.")
    @_shared
    @click.pass_context
    def arrive(
        context: click.Context,
        /,
        car: str,
        log: Path | None,
        knowledge: Path | None,
        facts: tuple[str, ...],
        list_facts: bool,
        record: bool,
        by: str,
        url: str | None,
        as_json: bool,
        **said: str | None,
    ) -> None:
        """What is told, seen and measured of a car that came in; suspects, next looks and the roller gate."""
        from graph.arrive import arrive as receive
        from graph.errors import UsageError
        from graph.note import FACTS
        from graph.quantity import Quantity
        from graph.recorded import Arrival, facts_of
        from ingest.symptom import find_sign
        from ui.arrival_document import arrive_document
        from ui.arrival_text import arrive_lines
        from ui.cli import _foreseen, _open, _print, _settings, _split, _value

        given, wants_json = _settings(context, url, as_json)
        if list_facts:
            click.echo("\n".join(f"{key:15} {text}" for key, text in FACTS.items()))
            sys.exit(0)
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
                agreed=agreed,
            )
            kept = facts_of(car, arrival, _pairs(facts), by)
            if facts and not record:
                raise UsageError("--fact is kept on record: say --record with it")
            database = _open(given)
            with database.read() as view:
                reception = receive(view, car, known, arrival)
            if record and kept:
                _keep(database, kept)
                with database.read() as view:
                    reception = receive(view, car, known, arrival)
        if wants_json:
            _print(arrive_document(reception))
        else:
            click.echo("\n".join(arrive_lines(reception)))
        sys.exit(0)

    return arrive


def _pairs(facts: Iterable[str]) -> list[tuple[str, str]]:
    from graph.errors import UsageError

    found = []
    for text in facts:
        key, sign, said = (part.strip() for part in text.partition("="))
        if not sign:
            raise UsageError(f"--fact: found {text!r}; expected is KEY=TEXT, such as 'codes=none stored'")
        found.append((key.lower(), said))
    return found


def _keep(database: Database, facts: Iterable[Fact]) -> None:
    from graph.store.notebook import add_notes
    from ui.cli import version
    from ui.local_user import local_user

    with database.write() as unit:
        add_notes(unit, facts, who=local_user(), tool_version=version())


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
    @click.option("--before", type=click.Path(path_type=Path), help="A pull before a change: was there a gain?")
    @click.option(
        "--repeat", "repeats", multiple=True, type=click.Path(path_type=Path), help="Further pulls before it."
    )
    @click.option("--no-keep", is_flag=True, help="Keep nothing of what the pull shows of the parts' limits.")
    @click.option("--as-stated", is_flag=True, help="Leave out what rollers taught of this car's engine.")
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
        before: Path | None,
        repeats: tuple[Path, ...],
        no_keep: bool,
        as_stated: bool,
        knowledge: Path | None,
        url: str | None,
        as_json: bool,
    ) -> None:
        """Events, causes and measured power of a dyno pull or a session; what it teaches about the parts is kept."""
        from graph.errors import UsageError
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
            if repeats and before is None:
                raise UsageError("--repeat belongs to --before: name the pull before the change")
            database = _open(given)
            with database.read() as view:
                cylinders = _cylinders(view, car)
                book = read_log(log, answers, cylinders=cylinders)
                report = judge_log(
                    view, car, book.reading, known, basis=basis or "crank", source=book.source, as_stated=as_stated
                )
            others = [read_log(p, answers, cylinders=cylinders) for p in (before, *repeats) if p is not None]
            compared = _compared(book, others, basis or "crank")
            kept = not no_keep and not book.problems and _learned(database, report, book)
        if wants_json:
            _print(pull_document(report, book, compared, kept=kept))
        else:
            click.echo("\n".join(pull_lines(report, compared, kept=kept)))
        for problem in (*book.problems, *(p for other in others for p in other.problems)):
            click.echo(problem.sentence, err=True)
        sys.exit(DEFECTS if book.problems else DONE)

    return pull


def _learned(database: Database, report: PullReport, book: LogBook) -> bool:
    """Keep what a pull shows of limits; True if it is new."""
    from graph.store.notebook import add_trials
    from ui.cli import version
    from ui.local_user import local_user

    if not report.trials:
        return False
    with database.write() as unit:
        load = add_trials(unit, report.trials, sha256=book.sha256, who=local_user(), tool_version=version())
    return load is not None


def _compared(after: LogBook, others: list[LogBook], basis: str) -> Comparison | None:
    from graph.comparison import compare
    from graph.errors import UsageError

    if not others:
        return None
    pulls = [book.reading.pull for book in (after, *others)]
    if any(p is None for p in pulls):
        raise UsageError("--before compares single pulls; a session of several pulls is judged by itself")
    first, *rest = [p for p in pulls if p is not None]
    found = compare(rest[0], first, basis, rest[1:])
    if found is None:
        raise UsageError("--before: one of the pulls has no power to compare")
    return found


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
