"""What the program writes down while it runs: plain lines for people or JSON lines for machines, never a secret."""

from __future__ import annotations

import json
import logging
import os
import re
import sys
from datetime import UTC, datetime
from typing import Any

FORM = "PINCHPOINT_LOG"  # text or json
LEVEL = "PINCHPOINT_LOG_LEVEL"
HIDDEN = "***"
#: Fields that a record of this program may carry.
FIELDS = ("who", "place", "what", "about", "load", "seconds", "outcome")
_SECRETS = (
    re.compile(r"(?P<before>\b[a-z][a-z0-9+.-]*://[^\s:/@]*:)[^\s@]+(?=@)", re.IGNORECASE),
    re.compile(
        r"(?P<before>\b(?:\w*password|\w*secret|\w*token|pwd|authorization|cookie|code|state|nonce|provider|_streamlit_\w+)"
        r"[\"']?\s*[=:]\s*(?:bearer\s+|basic\s+)?[\"']?)[^\s\"'&;,}]+",
        re.IGNORECASE,
    ),
    re.compile(r"(?P<before>\b)eyJ[\w-]{8,}\.[\w-]+\.[\w-]*"),
)


def without_secrets(text: str) -> str:
    """A text with passwords, secrets, tokens and cookies blotted out.

    Parameters
    ----------
    text : str
        About to be written down.

    Returns
    -------
    str
        The same without them.

    Examples
    --------
    >>> without_secrets("opened postgresql://shop:hunter2@db/book")
    'opened postgresql://shop:***@db/book'
    """
    for pattern in _SECRETS:
        text = pattern.sub(rf"\g<before>{HIDDEN}", text)
    return text


class _Lines(logging.Formatter):
    """One line a record: when, how grave, what, and the facts behind it."""

    def format(self, record: logging.LogRecord) -> str:
        facts = _facts(record)
        shown = "".join(f" {name}={value}" for name, value in facts.items() if name in FIELDS)
        text = f"{facts['at']} {facts['level']} {facts['logger']}: {facts['message']}{shown}"
        return text + (f"\n{facts['trace']}" if "trace" in facts else "")


class _JsonLines(logging.Formatter):
    """One JSON object a record."""

    def format(self, record: logging.LogRecord) -> str:
        return json.dumps(_facts(record), ensure_ascii=False)


def _facts(record: logging.LogRecord) -> dict[str, Any]:
    facts: dict[str, Any] = {
        "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
        "level": record.levelname.lower(),
        "logger": record.name,
        "message": without_secrets(record.getMessage()),
    }
    for name in FIELDS:
        value = getattr(record, name, None)
        if value is not None:
            facts[name] = without_secrets(value) if isinstance(value, str) else value
    if record.exc_info:
        facts["trace"] = without_secrets(logging.Formatter().formatException(record.exc_info))
    return facts


def start_journal(form: str | None = None, level: str | None = None) -> None:
    """Write what happens to standard error.

    Parameters
    ----------
    form : str or None
        ``json`` or ``text``; None for what the variable PINCHPOINT_LOG says, else text.
    level : str or None
        Least grave that is written; None for what PINCHPOINT_LOG_LEVEL says, else INFO.
    """
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(_JsonLines() if (form or os.environ.get(FORM, "text")) == "json" else _Lines())
    wanted = (level or os.environ.get(LEVEL, "INFO")).upper()
    root = logging.getLogger()
    root.handlers = [handler]
    root.setLevel(wanted if wanted in logging.getLevelNamesMapping() else "INFO")
    logging.getLogger("alembic").setLevel("WARNING")
    for name in list(logging.Logger.manager.loggerDict):  # libraries that write by themselves write here instead
        if name.split(".")[0] in ("streamlit", "uvicorn"):
            logging.getLogger(name).handlers = []
            logging.getLogger(name).propagate = True
