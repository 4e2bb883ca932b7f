"""One spelling for characters and units that look alike: kinds of spaces, dashes, micro signs, product dots."""

from __future__ import annotations

import re
from functools import lru_cache

SUPERSCRIPT = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺", "0123456789-+")
_HARD_SPACES = "\u00a0\u202f\u2007\u2008\u2009\u200a"
_TABLE: dict[int, str] = {
    **{ord(character): "\u00a0" for character in _HARD_SPACES},
    **{ord(character): " " for character in "\t\r\n\u2002\u2003\u2005\u3000"},
    **{ord(character): "" for character in "\u200b\u2060\ufeff\u00ad"},
    **{ord(character): "-" for character in "\u2212\u2010\u2011"},
    0x03BC: "\u00b5",  # Greek letter mu: one micro sign
    0x2019: "'",
    0x2044: "/",
}


def normalise_text(text: str) -> str:
    """Return the text with each look-alike character replaced by one of its kind.

    Parameters
    ----------
    text : str
        Text as written.

    Returns
    -------
    str
        Thin and non-breaking spaces become U+00A0, other white space a plain space, U+2212 and the special hyphens
        a hyphen, the Greek mu the micro sign; zero-width characters vanish and the ends are stripped.
    """
    return text.translate(_TABLE).strip(" \u00a0")


@lru_cache(maxsize=8192)  # a book repeats its words
def normalise_unit(text: str) -> str:
    """Return a unit's spelling in its plainest form.

    Parameters
    ----------
    text : str
        A unit as written.

    Returns
    -------
    str
        Without square brackets, ``^`` and superscripts; every kind of product dot a full stop; single spaces.

    Examples
    --------
    >>> normalise_unit(" [cm³ / min] ")
    'cm3/min'
    """
    text = text.strip(" \u00a0")
    if text.startswith("[") and text.endswith("]"):
        text = text[1:-1]
    text = text.translate(SUPERSCRIPT)
    text = re.sub("[·⋅∙•*]", ".", text).replace("μ", "µ").replace("℃", "°C").replace("℉", "°F").replace("º", "°")
    text = re.sub("[″”“]", '"', text).replace("÷", "/").replace("⁄", "/")
    text = re.sub(r"[ \u00a0]+", " ", text).strip()
    text = re.sub(r" ?([/.]) ?", r"\1", text)
    root = re.sub(r"(?:√|sqrt) ?(?:\(K\)|K)|K ?\^ ?(?:\((?:0[.,]5|1/2)\)|0[.,]5)|K½", "√K", text)
    if "√K" in root:  # a flow parameter: its factors may be joined in any way
        return re.sub(r"[ .]", "", root)
    return text.replace("^", "")
