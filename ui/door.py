"""Before any command runs: a path that no file can have, and an option given twice, are refused."""

from __future__ import annotations

import os
from typing import Any

import click

#: Longest name of one file or folder, and of a whole path [bytes]; the usual limits of file systems.
LONGEST_NAME, LONGEST_PATH = 255, 4096
_SHOWN = 60


def unusable(path: str) -> str:
    """Why a path can name no file; empty for one that may.

    Parameters
    ----------
    path : str
        As given.

    Returns
    -------
    str
        What is wrong, and what to do.
    """
    if not path.strip():
        return "names no file"
    if "\0" in path:
        return "holds a character that no name may have; correct it"
    try:
        encoded = path.encode()
    except UnicodeEncodeError:
        return "is no text in UTF-8; give the file another name"
    if len(encoded) >= LONGEST_PATH or any(len(piece) > LONGEST_NAME for piece in encoded.split(b"/")):
        return "is longer than a name may be; shorten it"
    return ""


class FilePath(click.Path):
    """A path that can name a file."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The path as click reads it, or a refusal."""
        if trouble := unusable(os.fsdecode(value)):
            self.fail(f"found {ascii(os.fsdecode(value))[:_SHOWN]}, which {trouble}", param, ctx)
        return super().convert(value, param, ctx)


class Program(click.Group):
    """The commands of the program; every path of every command goes through the same door."""

    def add_command(self, cmd: click.Command, name: str | None = None) -> None:
        """Take a command in, with its paths checked."""
        for parameter in cmd.params:
            if type(parameter.type) is click.Path:
                checked = FilePath()
                vars(checked).update(vars(parameter.type))
                parameter.type = checked
        super().add_command(cmd, name)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that is meant; an option that takes one value and is given twice is refused, not guessed."""
        name, command, rest = super().resolve_command(ctx, args)
        if command is not None:
            within = click.Context(command, parent=ctx, info_name=name)
            given = command.make_parser(within).parse_args(list(rest))[2]
            for option in given:
                once = isinstance(option, click.Option) and not (option.multiple or option.count or option.is_flag)
                if once and given.count(option) > 1:
                    advice = "give it once, several values with commas between them where it takes several"
                    raise click.UsageError(f"{option.opts[0]} is given {given.count(option)} times; {advice}", within)
        return name, command, rest
