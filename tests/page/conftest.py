"""The page in a real browser: headless Chromium on a profile of its own, against a service on this machine."""

import json
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from threading import Thread
from typing import Any
from urllib.parse import urlsplit

import pytest
from flask.testing import FlaskClient
from playwright.sync_api import Browser, Page, Playwright, sync_playwright
from werkzeug.serving import make_server

from service.web.application import create_app
from service.web.callers import made_key
from service.web.settings import Settings
from tests.deploy.processes import serving
from tests.web.clients import KEY, client_with

REGULAR = "Popcorn, a regular bag"
CHROMIUM = shutil.which("chromium")
# Without the network that it would use by itself, and without a sandbox, which it has none of as root.
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync", "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1"]  # fmt: skip


def launched(playwright: Playwright) -> Browser:
    """A browser. Skips the test where there is none."""
    if CHROMIUM is None:
        pytest.skip("chromium is not installed: the page cannot be tried")
    return playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A page that was opened, what it asked for, and what it complained of."""

    page: Page
    requested: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def choose(self, title: str) -> None:
        """Choose an invented cook, and wait until all of it has been answered."""
        self.page.get_by_role("button", name=title).click()
        self.page.get_by_role("heading", name=title).wait_for()
        self.answered()

    def answered(self) -> None:
        """Wait until every line of the cook has been answered, under each setup."""
        self.page.locator(".side:visible").first.wait_for()
        for side in self.page.locator(".side:visible").all():
            side.locator("tbody tr").first.wait_for(state="attached")

    def scrub(self, moment_s: float) -> None:
        """Move the slider."""
        self.page.get_by_label(re.compile("Moment of the cook")).fill(str(moment_s))

    def text(self, selector: str, side: int = 0) -> str:
        """What stands in a part of one side."""
        return self.page.locator(".side").nth(side).locator(selector).text_content() or ""

    def was_quiet(self) -> None:
        """Fail where the page complained of something, or asked for something from elsewhere."""
        own = "{0.scheme}://{0.netloc}/".format(urlsplit(self.page.url))
        assert not self.complaints
        assert not [one for one in self.requested if not one.startswith((own, f"blob:{own}"))]


Open = Callable[..., Seen]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = launched(playwright)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def url(browser: Browser) -> Iterator[str]:
    with serving(workers=1) as server:
        yield f"http://127.0.0.1:{server.port}"


@pytest.fixture(scope="module")
def keyed(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str]]:
    """A service in this process that needs a key, and one."""
    secret, key = made_key("lab", ("replay",), days=1)
    file = tmp_path_factory.mktemp("keys") / "keys.ndjson"
    file.write_text(key.line() + "\n", encoding="utf-8")
    server = make_server("127.0.0.1", 0, create_app(Settings(state_keys=(KEY,), keys_file=file)), threaded=True)
    serves = Thread(target=server.serve_forever)
    serves.start()
    yield f"http://127.0.0.1:{server.port}", secret
    server.shutdown()
    serves.join()
    server.server_close()


@pytest.fixture(scope="module")
def open_page(browser: Browser, url: str) -> Open:
    """Opens the page on a clean profile, in a window of a desk unless said otherwise."""

    def open_one(address: str = url, **profile: Any) -> Seen:
        page = browser.new_context(**{"viewport": {"width": 1280, "height": 900}, **profile}).new_page()
        seen = Seen(page=page)
        page.on("request", lambda request: seen.requested.append(request.url))
        page.on("pageerror", lambda error: seen.complaints.append(str(error)))
        page.on("console", lambda said: said.type in ("error", "warning") and seen.complaints.append(said.text))
        page.goto(address)
        page.locator("#cooks button").first.wait_for()
        return seen

    return open_one


@pytest.fixture(scope="module")
def still_page(open_page: Open) -> Seen:
    """A page that plays nothing by itself, which several tests use after each other."""
    return open_page(reduced_motion="reduce")


@pytest.fixture
def still(still_page: Seen) -> Iterator[Seen]:
    """The same with the regular bag chosen; whatever it complains of fails the test."""
    if still_page.page.get_by_role("heading", name=REGULAR).count() == 0:
        still_page.choose(REGULAR)
    yield still_page
    still_page.was_quiet()


@pytest.fixture(scope="session")
def client() -> FlaskClient:
    """The service in this process, for what needs no browser."""
    return client_with()


@pytest.fixture(scope="session")
def invented() -> dict[str, tuple[dict[str, Any], Path]]:
    """What is said of each invented cook, and its log."""
    folder = Path(str(files("service.demonstration")))
    return {
        file.name.removesuffix("-truth.json"): (
            json.loads(file.read_bytes()),
            folder / file.name.replace("-truth.json", ".ndjson"),
        )
        for file in folder.glob("*-truth.json")
    }
