"""The command for studies: thousands of assessments from one sheet, stopped and resumed at will."""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from graph.study import Outcome, Study

#: Shortest time between two lines of progress [s].
PAUSE = 5.0


def register(main: click.Group) -> None:
    """Add the command to the program.

    Parameters
    ----------
    main : click.Group
        The program.
    """
    from ui.cli import EPILOG, _shared

    main.command("study", epilog=EPILOG)(_shared(study))


@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--out", type=click.Path(path_type=Path), help="Table of results, .csv or .parquet; FILE-results.csv without it."
)
@click.option("--workers", type=int, default=1, show_default=True, help="Processes on this machine.")
@click.option(
    "--cluster",
    metavar="ADDRESS",
    envvar="PINCHPOINT_CLUSTER",
    help="Dask scheduler, such as tcp://server:8786, or 'local' (needs the extra 'cluster').",
)
@click.option("--as-stated", is_flag=True, help="Leave out what rollers taught of the cars' engines.")
@click.pass_context
def study(
    context: click.Context,
    file: Path,
    out: Path | None,
    workers: int,
    cluster: str | None,
    as_stated: bool,
    url: str | None,
    as_json: bool,
) -> None:
    """Assess every combination of builds, targets, fuels and days in FILE (TOML, CSV, XLSX, ODS).

    A run that was stopped goes on where it was when the same command is repeated; the results are the same bits
    whatever the number of workers.
    """
    from graph.errors import UsageError
    from graph.study import design, fingerprint
    from ingest.study_sheet import read_study
    from ui.cli import DEFECTS, DONE, _foreseen, _open, _print, _settings, version
    from ui.study_result import FORMATS, Journal, write_table

    given, wants_json = _settings(context, url, as_json)
    with _foreseen():
        table = out if out is not None else file.with_name(f"{file.stem}-results.csv")
        if table.suffix.lower() not in FORMATS:
            raise UsageError(f"--out: found {table.name}, expected is a name that ends with {' or '.join(FORMATS)}")
        sheet = read_study(file)
        for problem in sheet.problems:
            click.echo(problem.sentence, err=True)
        cases = [replace(c, request=replace(c.request, as_stated=as_stated)) for c in sheet.cases]
        with _open(given).read() as view:
            asked = design(view, cases, samples=sheet.samples, chunk=sheet.chunk)
        journal = Journal(table.with_name(f"{table.name}.part"), fingerprint(asked, version()))
        known = [o for chunk in journal.open() for o in chunk]
        outcomes = _run(asked, known, journal, workers, cluster)
        write_table(asked, outcomes, table)
        journal.close()
    document = study_document(asked, outcomes, table, resumed=len(known))
    document["defects"] = len(sheet.problems)
    if wants_json:
        _print(document)
    else:
        click.echo(_text(document), nl=False)
    sys.exit(DEFECTS if sheet.problems else DONE)


def _run(asked: Study, known: list[Outcome], journal: Any, workers: int, cluster: str | None) -> list[Outcome]:
    """Assess what is not known yet, with progress on standard error."""
    from graph.batch import run

    total, outcomes = len(asked.cases), list(known)
    first = len(known) // asked.chunk if len(known) < total else asked.chunks
    if known:
        click.echo(f"going on after {len(known)} of {total} assessments", err=True)
    began = said = time.monotonic()
    try:
        for number, chunk in enumerate(run(asked, first=first, workers=workers, cluster=cluster), start=first):
            journal.append(number, chunk)
            outcomes.extend(chunk)
            now = time.monotonic()
            if now - said >= PAUSE or len(outcomes) == total:
                said, rate = now, (len(outcomes) - len(known)) / max(now - began, 1e-9)
                left = (total - len(outcomes)) / rate
                click.echo(f"{len(outcomes)} of {total}, {rate:.1f} a second, about {left:.0f} s left", err=True)
    except KeyboardInterrupt:
        click.echo(f"stopped after {len(outcomes)} of {total}; repeat the command to go on", err=True)
        sys.exit(1)
    return outcomes


def study_document(asked: Study, outcomes: Sequence[Outcome], table: Path, *, resumed: int = 0) -> dict[str, Any]:
    """A study in short, as a document.

    Parameters
    ----------
    asked : Study
        What was asked.
    outcomes : sequence of Outcome
        One for each case.
    table : Path
        Where the results stand.
    resumed : int
        Assessments that an earlier run had finished [1].

    Returns
    -------
    dict
        For each car, build, fuel and day the highest power asked that is reached, the most that it carries, and
        what is most often its weakest link.
    """
    groups: dict[tuple[str, str, str, str], list[int]] = {}
    for number, case in enumerate(asked.cases):
        groups.setdefault((case.car, case.build, case.request.fuel or "", case.day), []).append(number)
    listed = []
    for (car, build, fuel, day), numbers in groups.items():
        found = [outcomes[n] for n in numbers]
        carried = [o.carries for o in found if o.carries is not None]
        reached = [asked.cases[n].request.power for n in numbers if outcomes[n].reachable is True]
        stops = [o.weakest for o in found if o.weakest and o.reachable is False]
        listed.append(
            {
                "car": car,
                "build": build,
                "fuel": fuel,
                "day": day,
                "assessments": len(found),
                "reachable": len(reached),
                "refused": sum(bool(o.refused) for o in found),
                "highest_reached_kW": round(max(reached) / 1e3, 3) if reached else None,
                "carries_kW": round(max(carried) / 1e3, 3) if carried else None,
                "weakest": max(dict.fromkeys(stops), key=stops.count) if stops else None,
            }
        )
    return {
        "schema": "pinchpoint.study/1",
        "out": str(table),
        "assessments": len(outcomes),
        "resumed": resumed,
        "reachable": sum(o.reachable is True for o in outcomes),
        "refused": sum(bool(o.refused) for o in outcomes),
        "builds": listed,
    }


def _text(document: dict[str, Any]) -> str:
    from ui.format import kilowatts

    lines = [
        f"{document['assessments']} assessments, {document['reachable']} reachable, {document['refused']} refused; "
        f"results in {document['out']}"
    ]
    for row in document["builds"][:40]:
        named = " ".join(filter(None, (row["car"], row["build"], row["fuel"], row["day"])))
        best = row["highest_reached_kW"]
        reached = "none reached" if best is None else f"up to {best:g} kW reached"
        if row["carries_kW"] is not None:
            reached += f", carries up to {kilowatts(row['carries_kW'] * 1e3)} kW"
        stop = "" if row["weakest"] is None else f"; weakest most often: {row['weakest']}"
        lines.append(f"{named}: {row['reachable']} of {row['assessments']}, {reached}{stop}")
    if len(document["builds"]) > 40:
        lines.append(f"... and {len(document['builds']) - 40} more in the table")
    return "\n".join(lines) + "\n"
