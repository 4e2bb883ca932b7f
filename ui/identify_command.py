"""The command that says which part of the book one in hand may be."""

from __future__ import annotations

import sys

import click


def identify_command() -> click.Command:
    """The command that finds candidates for a part in hand."""
    from ui.cli import EPILOG, _shared

    @click.command(name="identify", epilog=EPILOG)
    @click.argument("slot")
    @click.option(
        "--label", default="", help="What can be read of its label; ? for a covered character, * for several."
    )
    @click.option(
        "--port",
        "ports",
        multiple=True,
        metavar="NAME=TYPE",
        help="Connector, flange or bore, such as 'compressor inlet=76 mm'.",
    )
    @click.option(
        "--size", "sizes", multiple=True, metavar="SIZE", help="A measured or printed figure, such as '76 mm'."
    )
    @click.option("--car", help="The car it sits on; parts that fit it are more probable.")
    @_shared
    @click.pass_context
    def identify(
        context: click.Context,
        /,
        slot: str,
        label: str,
        ports: tuple[str, ...],
        sizes: tuple[str, ...],
        car: str | None,
        url: str | None,
        as_json: bool,
    ) -> None:
        """Which part is this: candidates for a partial label, sizes and connectors, and what tells them apart."""
        from graph.errors import UsageError
        from graph.identify import identify as find
        from graph.service import car_codes, find_record, list_parts
        from ui.cli import _foreseen, _open, _print, _settings
        from ui.record_document import identified_document, identified_lines

        given, wants_json = _settings(context, url, as_json)
        with _foreseen():
            pairs: dict[str, str] = {}
            for text in ports:
                name, sign, kind = (part.strip() for part in text.partition("="))
                if not (name and sign and kind):
                    raise UsageError(f"--port: found {text!r}; expected is NAME=TYPE, such as 'compressor inlet=76 mm'")
                pairs[name] = kind
            with _open(given).read() as view:
                codes: tuple[str, ...] = ()
                if car is not None:
                    record = find_record("car", car, view.cars())
                    codes = car_codes(record, find_record("platform", record.platform, view.platforms()))
                found = find(list_parts(view, slot), label=label, ports=pairs, sizes=sizes, codes=codes)
        if wants_json:
            _print(identified_document(slot, found))
        else:
            click.echo("\n".join(identified_lines(slot, found)))
        sys.exit(0)

    return identify
