"""``pinchpoint ui``: serves the pages, on this machine alone unless people sign in."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from ui.sign_in import SignIn

HOST = "127.0.0.1"
NAMES = (HOST, "localhost")  # what a browser of this machine may call it
PORT = 8501
LARGEST_UPLOAD = 20  # megabytes
APP = Path(__file__).resolve().parent / "server.py"


def settings(
    port: int,
    *,
    browser: bool,
    host: str = HOST,
    sign_in: SignIn | None = None,
    certificate: Path | None = None,
    key: Path | None = None,
) -> dict[str, str]:
    """Settings of the page server; given on its command line, so that they hold from any folder.

    Parameters
    ----------
    port : int
        Where it listens.
    browser : bool
        True to open the reader's browser.
    host : str
        Address that it listens on.
    sign_in : SignIn or None
        How people sign in; the server reads the secrets from its file.
    certificate, key : Path or None
        For https without a proxy in front.

    Returns
    -------
    dict of str to str
        Name to value.
    """
    from ui.theme import options

    found = {
        "server.address": host,
        "server.port": str(port),
        "server.headless": "false" if browser else "true",
        "server.maxUploadSize": str(LARGEST_UPLOAD),
        "server.enableXsrfProtection": "true",
        "server.enableCORS": "true",
        "server.fileWatcherType": "none",
        "browser.gatherUsageStats": "false",
        "browser.serverAddress": HOST if sign_in is None else sign_in.host,
        "client.toolbarMode": "minimal",
        "client.showErrorDetails": "none",
        **options(),
    }
    if sign_in is not None:
        found["secrets.files"] = str(sign_in.path.resolve())
    if certificate is not None and key is not None:
        found |= {"server.sslCertFile": str(certificate.resolve()), "server.sslKeyFile": str(key.resolve())}
    return found


def command_line(
    port: int,
    *,
    browser: bool,
    host: str = HOST,
    sign_in: SignIn | None = None,
    certificate: Path | None = None,
    key: Path | None = None,
) -> list[str]:
    """Words that start the page server; see :func:`settings`."""
    given = settings(port, browser=browser, host=host, sign_in=sign_in, certificate=certificate, key=key)
    flags = [f"--{name}={value}" for name, value in given.items()]
    names = NAMES if sign_in is None else (sign_in.host, *NAMES)
    flags += [f"--server.allowedHosts={name}" for name in dict.fromkeys(names)]
    return [sys.executable, "-m", "streamlit", "run", str(APP), *flags]


def refuse_open_door(host: str, sign_in: SignIn | None, certificate: Path | None, key: Path | None) -> None:
    """Refuse to listen where others can reach the pages and nobody asks who they are.

    Parameters
    ----------
    host : str
        Address to listen on.
    sign_in : SignIn or None
        How people sign in.
    certificate, key : Path or None
        For https.

    Raises
    ------
    UsageError
        Beyond this machine without a sign-in, or without https.
    """
    from graph.errors import UsageError
    from ui.sign_in import is_loopback

    if (certificate is None) != (key is None):
        raise UsageError("--certificate and --key belong together; name both or neither")
    if is_loopback(host):
        return
    if sign_in is None:
        raise UsageError(
            f"on {host} others reach the pages, and without a sign-in nobody asks who they are; "
            f"add --sign-in FILE, or leave --host out for {HOST}"
        )
    if not sign_in.encrypted:
        raise UsageError(
            f"on {host} others reach the pages, so browsers must come by https: "
            f"write an https:// redirect_uri into {sign_in.path}"
        )


def serve(url: str, words: list[str], sign_in: SignIn | None = None) -> int:
    """Serve the pages of a database until the reader stops them.

    Parameters
    ----------
    url : str
        Database.
    words : list of str
        As :func:`command_line` gives them.
    sign_in : SignIn or None
        How people sign in.

    Returns
    -------
    int
        Exit code of the server.
    """
    from ui.desk import DATABASE
    from ui.sign_in import SETTINGS

    environment = {**os.environ, DATABASE: url}
    environment.pop(SETTINGS, None)
    if sign_in is not None:
        environment[SETTINGS] = str(sign_in.path.resolve())
    if os.name == "posix":
        os.execve(words[0], words, environment)  # signals reach the server itself
    return subprocess.run(words, env=environment, check=False).returncode


def register(main: click.Group) -> None:
    """Add the command to the program."""
    from ui.cli import EPILOG, _foreseen, _open, _settings, _shared

    file = click.Path(path_type=Path, dir_okay=False)

    @main.command(epilog=EPILOG)
    @click.option("--port", default=PORT, show_default=True, help="Port to listen on.")
    @click.option("--host", default=HOST, show_default=True, help="Address to listen on; another needs --sign-in.")
    @click.option(
        "--sign-in", "sign_in_file", type=file, envvar="PINCHPOINT_SIGN_IN", help="Settings of the sign-in (TOML)."
    )
    @click.option("--certificate", type=file, help="For https without a proxy in front (PEM).")
    @click.option("--key", type=file, help="Key of the certificate (PEM).")
    @click.option("--no-browser", is_flag=True, help="Serve without opening a browser.")
    @_shared
    @click.pass_context
    def ui(
        context: click.Context,
        port: int,
        host: str,
        sign_in_file: Path | None,
        certificate: Path | None,
        key: Path | None,
        no_browser: bool,
        url: str | None,
        as_json: bool,
    ) -> None:
        """Show the pages in the browser: on this machine only, or to those who sign in."""
        from ui.sign_in import read_sign_in

        given, _ = _settings(context, url, as_json)
        with _foreseen():
            sign_in = None if sign_in_file is None else read_sign_in(sign_in_file)
            refuse_open_door(host, sign_in, certificate, key)
            database = _open(given)
            database.engine.dispose()
        address = f"http://{HOST}:{port}" if sign_in is None else sign_in.origin
        click.echo(f"The pages of {database.url} are at {address} until you press Ctrl-C.", err=True)
        words = command_line(port, browser=not no_browser, host=host, sign_in=sign_in, certificate=certificate, key=key)
        sys.exit(serve(given, words, sign_in))
