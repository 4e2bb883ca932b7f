"""The page server: the pages behind their gate, and what a monitor asks. Started by ``pinchpoint ui``."""

from __future__ import annotations

import threading
from functools import lru_cache
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route
from streamlit.starlette import App

from graph.errors import PinchpointError
from ui.app_command import NAMES
from ui.gate import Gate
from ui.journal import start_journal
from ui.sign_in import in_force

if TYPE_CHECKING:
    from graph.store import Database

start_journal()
_SIGN_IN = in_force()

#: Modules of the first pages; imported while the reader's browser still loads its own part.
FIRST = ("ui.page_cars", "ui.page_check")


def _foresee() -> None:
    for name in FIRST:
        import_module(name)


threading.Thread(target=_foresee, name="first pages", daemon=True).start()


def health() -> tuple[dict[str, Any], bool]:
    """Whether the database answers, with versions; nothing of what the shop keeps, and no address.

    Returns
    -------
    document : dict of str to object
        For a monitor.
    well : bool
        True where the pages can work.
    """
    from graph.store import schema_version
    from graph.store.schema import head_version
    from ui.cli import version

    said: dict[str, Any] = {"schema": "pinchpoint.health/1", "version": version(), "database_schema": None}
    try:
        said["database_schema"] = schema_version(_database())
    except PinchpointError:
        return {**said, "status": "the database does not answer"}, False
    well = said["database_schema"] == head_version()
    return {**said, "status": "ok" if well else "the database has another schema than this program"}, well


@lru_cache(maxsize=1)
def _database() -> Database:
    from graph.store import open_database
    from ui.cli import default_url

    return open_database(default_url(), migrate=False)


async def _health(_request: Request) -> Response:
    said, well = await run_in_threadpool(health)
    return JSONResponse(said, status_code=200 if well else 503)


app = App(
    Path(__file__).resolve().parent / "app.py",
    routes=[Route("/health", _health)],
    middleware=[
        Middleware(Gate, sign_in=_SIGN_IN, names=NAMES if _SIGN_IN is None else (_SIGN_IN.host.lower(), *NAMES)),
    ],
)
