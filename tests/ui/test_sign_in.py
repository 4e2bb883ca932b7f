"""Sign-in against an identity provider on this machine: nothing without it, and no role beyond what the shop granted."""

from __future__ import annotations

import json
import os
import re
import socket
import subprocess
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import httpx
import pytest
from identity_provider import CLIENT, SECRET, Provider, running_provider
from page_server import hand_over
from playwright.sync_api import expect
from real_browser import browser
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect

from graph.actor import Role
from graph.store import grant, open_database
from ingest.book import read_book, store_book
from ui.app_command import HOST, command_line
from ui.cli import seed_folder
from ui.desk import DATABASE
from ui.sign_in import LONGEST_SESSION, SETTINGS, read_sign_in

pytestmark = pytest.mark.of_a_file  # the page server is another program and opens the file itself
COOKIE_SECRET = "a-cookie-secret-of-this-test-0123456789"
BROWSER = {"accept": "text/html,application/xhtml+xml"}
READY = 90.0
SHEET = (
    "No.;Part;Slot;Fits;Rating of;Rating;Condition;Evidence\n"
    "PY-9001;spare pump;tank pump;marrit-20t;flow;200 L/h;5.5 bar, 13.5 V;own bench\n"
)
#: Words of the demo shop and of the pages' own program, which must not come out before the sign-in.
INSIDE = ("car-a", "PY-1110", "streamlit", "/static/")


@dataclass(frozen=True)
class Site:
    """The pages with their sign-in, and the provider that says who comes."""

    address: str
    provider: Provider
    log: Path
    url: str

    def visitor(self) -> httpx.Client:
        return httpx.Client(base_url=self.address, headers=BROWSER, timeout=60.0)

    def signed_in(self, mail: str = "look@shop.example", **claims: object) -> httpx.Client:
        """A browser's cookies after the way to the provider and back."""
        self.provider.claims = {"email": mail, "email_verified": True, **claims}
        visitor = self.visitor()
        way = re.search(r'href="(/auth/login[^"]+)"', visitor.get("/").text)
        assert way is not None
        visitor.get(way.group(1).replace("&amp;", "&"), follow_redirects=True)
        return visitor

    def stream(self, cookies: httpx.Cookies | None = None, origin: str | None = None):
        """Open the websocket through which everything on a page comes."""
        named = "; ".join(f"{c.name}={c.value}" for c in cookies.jar) if cookies is not None else ""
        return connect(
            f"{self.address.replace('http', 'ws')}/_stcore/stream",
            additional_headers={"Cookie": named} if named else {},
            origin=origin or self.address,  # type: ignore[arg-type]
            subprotocols=["streamlit"],  # type: ignore[list-item]
            open_timeout=60,
        )


def free_port() -> int:
    with socket.socket() as free:
        free.bind((HOST, 0))
        return int(free.getsockname()[1])


def settings_file(folder: Path, address: str, provider: str, **changed: str) -> Path:
    said = {
        "redirect_uri": f"{address}/oauth2callback",
        "cookie_secret": COOKIE_SECRET,
        "client_id": CLIENT,
        "client_secret": SECRET,
        "server_metadata_url": f"{provider}/.well-known/openid-configuration",
        **changed,
    }
    path = folder / "sign-in.toml"
    path.write_text("[auth]\n" + "".join(f"{name} = {json.dumps(value)}\n" for name, value in said.items()))
    path.chmod(0o600)
    return path


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    folder = tmp_path_factory.mktemp("signed")
    url = f"sqlite:///{folder}/shop.sqlite"
    database = open_database(url)
    store_book(database, read_book([seed_folder()]), who="shop", version="0")
    with database.write() as unit:
        for role in Role:
            grant(unit, f"{role.value.replace(' ', '-')}@shop.example", [role], who="owner")
    database.engine.dispose()
    port = free_port()
    address = f"http://{HOST}:{port}"
    with running_provider(free_port()) as provider, (folder / "server.log").open("wb") as log:
        sign_in = read_sign_in(settings_file(folder, address, provider.address))
        server = subprocess.Popen(
            command_line(port, browser=False, sign_in=sign_in),
            env={**os.environ, DATABASE: url, SETTINGS: str(sign_in.path), "PINCHPOINT_LOG": "json"},
            cwd=folder,
            stdout=log,
            stderr=subprocess.STDOUT,
        )
        try:
            end = time.monotonic() + READY
            while True:
                assert server.poll() is None, (folder / "server.log").read_text()
                assert time.monotonic() < end, "the page server did not answer"
                try:
                    if httpx.get(f"{address}/health", timeout=5).status_code == 200:
                        break
                except httpx.TransportError:
                    time.sleep(0.1)
            yield Site(address, provider, folder / "server.log", url)
        finally:
            server.terminate()
            server.wait(timeout=20)


@pytest.mark.parametrize(
    "path",
    [
        "/", "/cars", "/plan?car=car-a", "/parts?part=PY-1110", "/arrival", "/dyno", "/ask", "/index.html", "/favicon.png",
        "/static/js/index.js", "/media/0123456789abcdef.xlsx", "/_stcore/host-config", "/_stcore/metrics",
        "/_stcore/script-health-check", "/component/x/index.html", "/app/static/x", "//cars", "/%2e%2e/cars", "/nothing",
    ],
)  # fmt: skip
@pytest.mark.parametrize("accept", ["text/html", "*/*"])
def test_nothing_comes_out_without_a_sign_in(site: Site, path: str, accept: str) -> None:
    answer = httpx.get(f"{site.address}{path}", headers={"accept": accept}, timeout=60)
    assert answer.status_code == 401
    assert not [word for word in INSIDE if word in answer.text]


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS", "HEAD", "PATCH"])
def test_nothing_goes_in_without_a_sign_in(site: Site, method: str) -> None:
    answer = httpx.request(method, f"{site.address}/_stcore/upload_file/session/file", timeout=60)
    assert answer.status_code == 401


def test_no_websocket_without_a_sign_in(site: Site) -> None:
    with pytest.raises(InvalidStatus) as caught, site.stream():
        pass
    assert caught.value.response.status_code == 403


def test_a_monitor_hears_that_the_server_lives_and_nothing_else(site: Site) -> None:
    said = httpx.get(f"{site.address}/health", timeout=60).json()
    assert said["status"] == "ok"
    assert set(said) == {"schema", "version", "database_schema", "status"}


def test_after_the_way_to_the_provider_and_back_everything_opens(site: Site) -> None:
    visitor = site.signed_in()
    assert "streamlit" in visitor.get("/").text.lower()
    assert visitor.get("/media/0123456789abcdef.xlsx").status_code == 404  # asked of the pages themselves
    with site.stream(visitor.cookies) as stream:
        assert stream.subprotocol == "streamlit"


def test_a_stranger_s_page_cannot_use_the_cookie(site: Site) -> None:
    visitor = site.signed_in()
    with pytest.raises(InvalidStatus) as caught, site.stream(visitor.cookies, origin="http://elsewhere.example"):
        pass
    assert caught.value.response.status_code == 403


@pytest.mark.parametrize("name", ["elsewhere.example", "127.0.0.1.elsewhere.example", ""])
def test_another_name_for_the_pages_is_refused(site: Site, name: str) -> None:
    answer = httpx.get(f"{site.address}/cars", headers={"host": name, "cookie": "a=b"}, timeout=60)
    assert answer.status_code == 403 or (not name and answer.status_code == 400)


@pytest.mark.parametrize(
    "claims",
    [
        {"email_verified": False},
        {"email": None},
        {"email": "nobody"},
        {"iat": int(time.time()) - LONGEST_SESSION - 60},
    ],
    ids=["unverified", "no address", "no address either", "yesterday"],
)
def test_a_sign_in_that_says_too_little_opens_nothing(site: Site, claims: dict) -> None:
    visitor = site.signed_in(**claims)
    assert visitor.get("/").status_code == 401


def test_a_cookie_signed_by_somebody_else_opens_nothing(site: Site) -> None:
    from streamlit.web.server.starlette.starlette_app_utils import create_signed_value

    said = {"email": "administer@shop.example", "is_logged_in": True, "origin": site.address, "iat": int(time.time())}
    for secret in ("another secret", ""):
        forged = create_signed_value(secret, "_streamlit_user", json.dumps(said)).decode()
        answer = httpx.get(f"{site.address}/cars", cookies={"_streamlit_user": forged}, timeout=60)
        assert answer.status_code == 401
    assert (
        httpx.get(f"{site.address}/cars", cookies={"_streamlit_user": json.dumps(said)}, timeout=60).status_code == 401
    )


def test_signing_out_closes_the_door(site: Site) -> None:
    visitor = site.signed_in()
    visitor.get("/auth/logout")
    assert visitor.get("/cars").status_code == 401


def test_the_log_holds_no_secret(site: Site) -> None:
    visitor = site.signed_in()
    visitor.get("/oauth2callback", params={"code": "a-stolen-code", "state": "a-state-of-mine"}, follow_redirects=False)
    cookie = visitor.cookies["_streamlit_user"]
    text = site.log.read_text()
    for secret in (SECRET, COOKIE_SECRET, cookie, "a-stolen-code", "a-state-of-mine", *site.provider.handed_out):
        assert secret not in text
    lines = [line for line in text.splitlines() if line.startswith("{")]
    assert lines
    assert all({"at", "level", "logger", "message"} <= set(json.loads(line)) for line in lines)


def test_a_browser_signs_in_and_each_role_gets_no_further_than_it_may(site: Site) -> None:
    with browser() as opened:
        for mail, sees, may_load in (
            ("stranger@elsewhere.example", False, False),
            ("look@shop.example", True, False),
            ("keep-the-book@shop.example", True, True),
        ):
            site.provider.claims = {"email": mail, "email_verified": True}
            page = opened.new_context().new_page()
            page.goto(f"{site.address}/parts")
            expect(page.get_by_text("opens for those who sign in")).to_be_visible()
            page.get_by_role("link", name="Sign in").click()
            expect(page.get_by_text(mail, exact=True)).to_be_visible(timeout=60_000)
            if not sees:
                expect(page.get_by_text("the shop granted none yet")).to_be_visible(timeout=60_000)
                expect(page.get_by_text("PY-1110")).to_have_count(0)
                continue
            page.goto(f"{site.address}/parts?part=PY-1110")
            expect(page.get_by_role("heading", name="PY-1110")).to_be_visible(timeout=60_000)
            loads = _loads(site)
            page.goto(f"{site.address}/parts")
            if not may_load:
                expect(page.get_by_text("Loading sheets needs the role 'keep the book'")).to_be_visible(timeout=60_000)
                expect(page.locator("input[type=file]")).to_have_count(0)
                assert _loads(site) == loads
                continue
            hand_over(page, {"name": "own.csv", "mimeType": "text/csv", "buffer": SHEET.encode()})
            page.get_by_role("button", name=re.compile(r"^Load \d+ rows?")).click(timeout=60_000)
            expect(page.get_by_text(re.compile(r"\d+ of \d+ rows? loaded"))).to_be_visible(timeout=60_000)
            assert [row["who"] for row in _loads(site)[len(loads) :]] == [mail]


def _loads(site: Site) -> tuple:
    database = open_database(site.url)
    with database.read() as view:
        found = view.loads()
    database.engine.dispose()
    return found
