"""``pinchpoint ui``: serves the pages on this machine, and only to it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import click

HOST = "127.0.0.1"
NAMES = (HOST, "localhost")  # what a browser of this machine may call it
PORT = 8501
LARGEST_UPLOAD = 20  # megabytes
APP = Path(__file__).resolve().parent / "app.py"


def settings(port: int, *, browser: bool) -> dict[str, str]:
    """Settings of the page server; given on its command line, so that they hold from any folder.

    Parameters
    ----------
    port : int
        On 127.0.0.1.
    browser : bool
        True to open the reader's browser.

    Returns
    -------
    dict of str to str
        Name to value.
    """
    from ui.theme import options

    return {
        "server.address": HOST,
        "server.port": str(port),
        "server.headless": "false" if browser else "true",
        "server.maxUploadSize": str(LARGEST_UPLOAD),
        "server.enableXsrfProtection": "true",
        "server.enableCORS": "true",
        "server.fileWatcherType": "none",
        "browser.gatherUsageStats": "false",
        "browser.serverAddress": HOST,
        "client.toolbarMode": "minimal",
        "client.showErrorDetails": "none",
        **options(),
    }


def command_line(port: int, *, browser: bool) -> list[str]:
    """Words that start the page server."""
    flags = [f"--{name}={value}" for name, value in settings(port, browser=browser).items()]
    flags += [f"--server.allowedHosts={name}" for name in NAMES]
    return [sys.executable, "-m", "streamlit", "run", str(APP), *flags]


def serve(url: str, port: int, *, browser: bool) -> int:
    """Serve the pages of a database until the reader stops them.

    Parameters
    ----------
    url : str
        Database.
    port : int
        On 127.0.0.1.
    browser : bool
        True to open the reader's browser.

    Returns
    -------
    int
        Exit code of the server.
    """
    from ui.desk import DATABASE

    environment = {**os.environ, DATABASE: url}
    words = command_line(port, browser=browser)
    if os.name == "posix":
        os.execve(words[0], words, environment)  # signals reach the server itself
    return subprocess.run(words, env=environment, check=False).returncode


def register(main: click.Group) -> None:
    """Add the command to the program."""
    from ui.cli import EPILOG, _foreseen, _open, _settings, _shared

    @main.command(epilog=EPILOG)
    @click.option("--port", default=PORT, show_default=True, help="Port on 127.0.0.1.")
    @click.option("--no-browser", is_flag=True, help="Serve without opening a browser.")
    @_shared
    @click.pass_context
    def ui(context: click.Context, port: int, no_browser: bool, url: str | None, as_json: bool) -> None:
        """Show the pages in the browser, on this machine only."""
        given, _ = _settings(context, url, as_json)
        with _foreseen():
            _open(given).engine.dispose()
        click.echo(f"The pages of {given} are at http://{HOST}:{port} until you press Ctrl-C.", err=True)
        sys.exit(serve(given, port, browser=not no_browser))
