"""What must be known of a zipped spreadsheet before it is read, and what its reader does not tell.

The reader lays a sheet out as one block from its first to its last filled cell: one stray cell at the far end would
ask for hundreds of gigabytes. The extent is therefore measured first, as a stream. On the way come the cells that the
reader gives as empty (errors, formulas that were never calculated) and the numbers that are shown as percentages.
"""

from __future__ import annotations

import io
import re
import struct
import xml.etree.ElementTree as ElementTree
import xml.parsers.expat
import zipfile
import zlib

from ingest.extent import Extent, Scan
from ingest.problem import UnreadableFile
from ingest.scan_ods import scan_ods
from ingest.scan_xlsx import scan_xlsx

LARGEST_CONTENT = 500 * 1024 * 1024
_CHUNK = 1 << 20
#: members that the reader opens
_READ = re.compile(
    r"(?:xl/(?:workbook|styles|sharedStrings|worksheets/[^/]+)\.xml|(?!__MACOSX/).*\.rels|content\.xml|META-INF/manifest\.xml)"
)
#: what the standard library raises on damaged archives and XML
_DAMAGE = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    ElementTree.ParseError,
    xml.parsers.expat.ExpatError,
    EOFError,
    OSError,
    LookupError,
    ValueError,
    OverflowError,
    NotImplementedError,
)


def scan_archive(content: bytes, file: str, most_cells: int, largest_width: int) -> Scan:
    """Look through a zipped spreadsheet before it is read.

    Parameters
    ----------
    content : bytes
        The whole file.
    file : str
        Its name, for the messages.
    most_cells : int
        Most cells between the first and the last filled one, all sheets together [1].
    largest_width : int
        Most columns of a sheet [1].

    Returns
    -------
    Scan
        Its kind and the cells to know about.

    Raises
    ------
    UnreadableFile
        No spreadsheet, damaged, or too large to be read safely.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            if sum(member.file_size for member in archive.infolist()) > LARGEST_CONTENT:
                raise UnreadableFile(file, f"it unpacks to more than {LARGEST_CONTENT >> 20} MB", "split the file")
            if any(member.flag_bits & 1 for member in archive.infolist()):
                raise UnreadableFile(file, "the file is protected by a password", "save it without one")
            _check_members(archive)
            names = set(archive.namelist())
            extent = Extent(file, most_cells, largest_width)
            if "xl/workbook.xml" in names:
                return scan_xlsx(archive, extent)
            if "mimetype" in names and b"opendocument.spreadsheet" in archive.read("mimetype"):
                return scan_ods(archive, extent)
    except _DAMAGE as error:
        raise UnreadableFile(
            file, "the spreadsheet is damaged or cut short", "copy or export the file again"
        ) from error
    raise UnreadableFile(file, "this archive holds no XLSX or ODS table", "save the table as XLSX, ODS or CSV")


def _check_members(archive: zipfile.ZipFile) -> None:
    """Read every member to its end, where its checksum is compared.

    XML that is not well formed is refused on the way: the reader may wait for ever for its end.
    """
    for name in archive.namelist():
        with archive.open(name) as stream:
            parser = xml.parsers.expat.ParserCreate() if _READ.fullmatch(name) else None
            while chunk := stream.read(_CHUNK):
                if parser is not None:
                    parser.Parse(chunk)
            if parser is not None:
                parser.Parse(b"", True)
