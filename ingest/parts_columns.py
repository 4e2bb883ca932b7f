"""Columns of a parts sheet that is written: their names, what they mean, and their description for programs.

References
----------
W3C, Metadata Vocabulary for Tabular Data (CSVW), Recommendation of 17 December 2015.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from graph.model import Part

HEADER = ("No.", "Part", "Slot", "Fits", "Rating of", "Rating", "Unit", "Condition", "Meaning", "Evidence", "Date",
          "± %", "Price net EUR", "Labour h", "Lead days", "Stock", "Requires", "Interfaces", "Note")  # fmt: skip
#: Columns that are added where a part fills them.
MORE = ("Maker", "By")
#: Column -> type of its cells, and what they say.
MEANS: dict[str, tuple[str, str]] = {
    "No.": ("string", "the shop's part number"),
    "Part": ("string", "what the shop calls the part, in its first row"),
    "Slot": ("string", "the place that it goes to, in its first row"),
    "Fits": ("string", "platform, engine and gearbox codes, parted by ';'"),
    "Rating of": ("string", "what is rated"),
    "Rating": ("string", "the number, or points 'x: y' parted by ';'"),
    "Unit": ("string", "of the rating"),
    "Condition": ("string", "where the rating holds"),
    "Meaning": ("string", "what the number means; nothing for a nominal value"),
    "Evidence": ("string", "how the number is known"),
    "Date": ("date", "of the measurement or statement"),
    "± %": ("double", "relative standard deviation in per cent"),
    "Price net EUR": ("double", "net price of the set in euro"),
    "Labour h": ("double", "labour on its own in hours"),
    "Lead days": ("double", "lead time in days"),
    "Stock": ("integer", "pieces on the shelf"),
    "Requires": ("string", "what the part says about others, and work that goes with it"),
    "Interfaces": ("string", "ports and their types"),
    "Note": ("string", "free words"),
    "Maker": ("string", "who makes it"),
    "By": ("string", "who stated the number"),
}


def header_of(parts: Iterable[Part]) -> tuple[str, ...]:
    """Columns that a list of parts fills: those of every parts sheet, and maker and person where any is named."""
    listed = list(parts)
    named = any(p.maker for p in listed)
    stated = any(r.evidence.by is not None for p in listed for r in p.ratings)
    return (*HEADER, *(name for name, wanted in zip(MORE, (named, stated), strict=True) if wanted))


def metadata(file: str, header: Iterable[str]) -> dict[str, object]:
    """Description of a CSV file of parts in the vocabulary for tabular data.

    Parameters
    ----------
    file : str
        Its name.
    header : iterable of str
        Its columns.

    Returns
    -------
    dict
        JSON.
    """
    columns = [
        {
            "name": re.sub(r"[^a-z0-9]+", "_", name.lower().replace("±", "spread")).strip("_"),
            "titles": name,
            "datatype": MEANS[name][0],
            "dc:description": MEANS[name][1],
        }
        for name in header
    ]
    return {
        "@context": "http://www.w3.org/ns/csvw",
        "url": file,
        "dc:title": "Parts book",
        "dialect": {"delimiter": ",", "encoding": "utf-8", "header": True, "quoteChar": '"'},
        "tableSchema": {"columns": columns},
    }
