"""``pinchpoint correct``: one rating of one part changed by hand, by somebody who has seen how it stands."""

from __future__ import annotations

import click


def register(main: click.Group) -> None:
    """Add the command to the command line.

    Parameters
    ----------
    main : click.Group
        The program.
    """
    from ui.cli import EPILOG, _shared

    main.command("correct", epilog=EPILOG)(_shared(correct))


@click.argument("part")
@click.argument("rating")
@click.argument("value")
@click.option(
    "--seen",
    type=click.IntRange(1),
    required=True,
    help="Revision that you saw; 'pinchpoint revisions PART' lists them.",
)
@click.option(
    "--evidence", required=True, help="How the number is known, as in a sheet: 'own bench', 'maker sheet' ..."
)
@click.option("--condition", default="", help="At which it holds, as in a sheet: '5 bar, 13.5 V'.")
@click.option("--meaning", default="", help="nominal, guaranteed minimum, survived or failed.")
@click.option("--spread", default="", help="Relative standard deviation, such as '4 %'.")
@click.option("--date", default="", help="When it was found, such as 2026-03-02.")
@click.pass_context
def correct(
    context: click.Context,
    /,
    part: str,
    rating: str,
    value: str,
    seen: int,
    url: str | None,
    as_json: bool,
    **said: str,
) -> None:
    """Change one rating of a part, as a new revision: correct PY-1004 flow '190 l/h' --seen 2 --evidence 'own bench'.

    If somebody changed the part after the revision that you saw, nothing is written and you hear what they changed.
    """
    from graph.errors import UnknownName
    from graph.store import correct_rating
    from ingest.correction import read_correction
    from ui.cli import _foreseen, _open, _print, _settings, version
    from ui.local_user import local_user
    from ui.rating_text import rating_text

    given, wants_json = _settings(context, url, as_json)
    who = local_user()
    with _foreseen():
        database = _open(given)
        with database.read() as view:
            record = view.part(part)
            if record is None:
                raise UnknownName("part", part, [p.id for p in view.parts()])
        meant = read_correction(record, {"rating_of": rating, "rating": value, **said}, who=who)
        with database.write() as unit:
            revision = correct_rating(unit, part, meant, seen=seen, who=who, tool_version=version(), say=rating_text)
    if wants_json:
        document = {"part": part, "rating": meant.name, "revision": revision.number, "load": revision.load}
        _print({"schema": "pinchpoint.correct/1", **document})
    else:
        click.echo(f"{part}: {meant.name} is now {meant.text}, revision {revision.number}")
