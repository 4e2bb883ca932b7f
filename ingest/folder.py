"""Which files are meant: sheets named one by one, and those of folders."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from graph.errors import UsageError

#: Files of a folder that are taken for sheets.
SUFFIXES = frozenset({".xlsx", ".xlsm", ".xls", ".ods", ".csv", ".tsv"})


def sheet_files(paths: Iterable[Path | str]) -> list[Path]:
    """Find the files that paths name.

    Parameters
    ----------
    paths : iterable of path
        Files and folders.

    Returns
    -------
    list of Path
        Each file once; a folder's in the order of their names, without hidden and temporary ones.

    Raises
    ------
    UsageError
        A path does not exist, there is no sheet in a folder, or two files have one name.
    """
    found: dict[Path, Path] = {}
    for given in map(Path, paths):
        if given.is_dir():
            inside = sorted(
                p
                for p in given.iterdir()
                if p.is_file() and p.suffix.lower() in SUFFIXES and not p.name.startswith(("~", "."))
            )
            if not inside:
                raise UsageError(f"{given} holds no sheet; allowed are {', '.join(sorted(SUFFIXES))}")
        elif given.is_file():
            inside = [given]
        else:
            raise UsageError(f"{given} does not exist; name a sheet or a folder of sheets")
        for path in inside:
            found.setdefault(path.resolve(), path)
    names: dict[str, Path] = {}
    for path in found.values():
        other = names.setdefault(path.name, path)
        if other is not path:
            raise UsageError(f"{other} and {path} have one name; rename one, because evidence names the file")
    return list(found.values())
