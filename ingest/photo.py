"""Photographs of a look: a picture is kept under the digest of its content, so that it can be neither lost nor mixed up."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

from graph.note import Photo
from ingest.problem import UnreadableFile

LARGEST = 60_000_000
#: First bytes of the kinds of picture that cameras and phones write, and the kind's name.
_KINDS = (
    (b"\xff\xd8\xff", ".jpg"),
    (b"\x89PNG\r\n\x1a\n", ".png"),
    (b"GIF8", ".gif"),
    (b"BM", ".bmp"),
    (b"II*\x00", ".tif"),
    (b"MM\x00*", ".tif"),
    (b"%PDF", ".pdf"),
)


def keep_photo(path: Path, folder: Path) -> Photo:
    """Copy a picture into the folder of photographs.

    Parameters
    ----------
    path : Path
        The picture.
    folder : Path
        Where photographs are kept; it is made where it is missing.

    Returns
    -------
    Photo
        Its name, digest and the copy; one that is kept already is not copied again.

    Raises
    ------
    UnreadableFile
        There is no such file, it is no picture, or too large.
    """
    if not path.is_file():
        raise UnreadableFile(path.name, "there is no such photograph", "check the path")
    if path.stat().st_size > LARGEST:
        raise UnreadableFile(path.name, "it is larger than 60 MB", "make it smaller")
    content = path.read_bytes()
    kind = next((end for start, end in _KINDS if content.startswith(start)), None)
    if kind is None and content[4:8] == b"ftyp":
        kind = ".heic"
    if kind is None and content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        kind = ".webp"
    if kind is None:
        raise UnreadableFile(path.name, "it is no photograph", "give a picture or a PDF")
    digest = hashlib.sha256(content).hexdigest()
    kept = folder / f"{digest}{kind}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if not kept.is_file():
            part = kept.with_suffix(".part")
            shutil.copyfile(path, part)
            part.replace(kept)
    except OSError as error:
        raise UnreadableFile(
            path.name, f"the copy cannot be made ({error.strerror})", "check disk and rights"
        ) from error
    return Photo(name=path.name, sha256=digest, path=str(kept))
