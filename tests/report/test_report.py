"""The report of an audit: everything in one file, and fit to be read, heard, printed and kept."""

import io
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from service.audit.audit import audit
from service.commands.audit_report import WORDS, WrongProfile, cooks_to_show, profile_in
from service.extras import MissingExtra
from service.fleet.audited import audit_piece
from service.fleet.pieces import pieces
from service.report import pictures
from service.report.page import page
from tests.fleet.logs_of_cooks import cook

PROFILE = """{
  "steam_ratio": {"value": 1.31, "low": 1.2, "high": 1.4, "cooks": 7},
  "dead_time_s": 0.04,
  "about": {"says": ["The popping fits."], "refused": [{"value": "duty_cycle", "needs": "readings of the power"}]}
}"""
NASTY = "<script>alert('oven & \"bag\"')</script>"
FORMULA = r"$\no$ 炉"


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A report on five cooks, two of them drawn, with labels that would like to be markup."""
    pytest.importorskip("matplotlib", reason="matplotlib is not installed: pip install -e '.[report]'")
    folder = tmp_path_factory.mktemp("report")
    log, profile, file = folder / "shelf.ndjson", folder / "oven.json", folder / "report.html"
    profile.write_text(PROFILE, encoding="utf-8")
    cooks = [
        cook(stop_s, oven=oven, bag=NASTY, policy=FORMULA, trial=place, kernels_left=20 + place, scorched_pieces=place,
             note="An invented cook.")
        for place, (stop_s, oven) in enumerate([(118.0, "old"), (126.0, "old"), (121.0, "old"), (131.0, "new"), (140.0, "new")])
    ]  # fmt: skip
    log.write_bytes(b"".join(line for one in cooks for line in one))
    found = audit([one.audited for piece in pieces([log]) for one in audit_piece(piece).cooks])
    notes = ["An invented cook.", None, *(f"note {place % 9}" for place in range(20))]
    file.write_text(page(found, cooks_to_show([log], 2), WORDS, profile_in(profile), notes), encoding="utf-8")
    return file


def test_the_audit_the_profile_and_the_cooks_are_in_it(report: Path) -> None:
    text = report.read_text(encoding="utf-8")
    for said in ("Audit of 5 cooks", "oven old", "unpopped, %", "cannot say", "our own stop: in 5 cooks", "steam_ratio",
                 "1.2 to 1.4", "The popping fits.", "No duty_cycle: it needs readings of the power.",
                 "The first 2 of 5.", "shelf.ndjson, line 1", "An invented cook.",
                 "note 6", "and 2 other notes"):  # fmt: skip
        assert said in text


def test_it_needs_no_other_file_and_runs_no_script(report: Path) -> None:
    text = report.read_text(encoding="utf-8")
    assert "<script" not in text
    # The names of the formats themselves, and references inside the page, are no files.
    away = re.findall(r'(?:src|href)="(?!#)([^"]*)"|url\((?!#)([^)]*)\)|@import', text)
    assert not away
    assert "alert(&#39;oven &amp; &#34;bag&#34;&#39;)" in text
    assert text.count(f"policy {FORMULA}") >= 2


def test_no_id_is_used_twice(report: Path) -> None:
    ids = re.findall(r'\sid="([^"]+)"', report.read_text(encoding="utf-8"))
    assert len(ids) == len(set(ids))
    referred = re.findall(
        r'aria-labelledby="([^"]+)"|url\(#([^)]+)\)|href="#([^"]+)"', report.read_text(encoding="utf-8")
    )
    assert {name for names in referred for name in names if name} <= set(ids)


def test_the_same_cook_gives_the_same_picture(report: Path) -> None:
    (shown,) = cooks_to_show([report.with_name("shelf.ndjson")], 1)
    picture = pictures.picture_of_cook(shown.series, "cook-1-picture")
    assert picture in report.read_text(encoding="utf-8")


def test_no_cooks_make_a_report_too() -> None:
    text = page(audit([]), [], WORDS)
    assert "Audit of 0 cooks" in text
    assert "<svg" not in text


@pytest.mark.parametrize("about", ['{"says": 3, "refused": [4, {"value": "x"}]}', "{}"])
def test_remarks_of_another_shape_are_passed_over(tmp_path: Path, about: str) -> None:
    file = tmp_path / "oven.json"
    file.write_text(f'{{"dead_time_s": 0.04, "about": {about}}}', encoding="utf-8")
    assert profile_in(file).remarks == ()


@pytest.mark.parametrize(
    ("text", "why"), [("{", "Expecting"), ('{"steam_ratio": 99}', "/steam_ratio"), ("[]", "an object")]
)
def test_a_wrong_profile_is_told(tmp_path: Path, text: str, why: str) -> None:
    file = tmp_path / "oven.json"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(WrongProfile, match=why):
        profile_in(file)


def test_without_the_plotting_library_the_extra_is_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def missing(module: str, name: str) -> Any:
        raise MissingExtra(f"{module}: pip install 'cookstop[{name}]'")

    monkeypatch.setattr(pictures, "extra", missing)
    log = tmp_path / "cook.ndjson"
    log.write_bytes(b'{"program": "popcorn", "as_of": 2}\n{"outcome": {}}\n')
    with pytest.raises(MissingExtra, match=r"cookstop\[report\]"):
        page(audit([]), cooks_to_show([log], 1), WORDS)


@pytest.fixture(scope="module")
def shown(report: Path) -> Iterator[tuple[Any, list[str]]]:
    """The report in a real browser, and all that the browser asked for or complained of."""
    playwright = pytest.importorskip(
        "playwright.sync_api", reason="playwright is not installed: pip install playwright"
    )
    chromium = shutil.which("chromium")
    if chromium is None:
        pytest.skip("chromium is not installed: apt-get install chromium")
    flags = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
             "--disable-component-update", "--disable-sync"]  # fmt: skip
    with playwright.sync_playwright() as started:
        browser = started.chromium.launch(executable_path=chromium, args=flags)
        opened = browser.new_page(viewport={"width": 1000, "height": 900})
        noted: list[str] = []
        opened.on("request", lambda request: noted.append(request.url))
        opened.on("pageerror", lambda error: noted.append(str(error)))
        opened.on("console", lambda said: noted.append(said.text))
        opened.goto(report.as_uri())
        yield opened, noted
        browser.close()


def test_a_browser_shows_it_without_a_complaint(shown: tuple[Any, list[str]], report: Path) -> None:
    opened, noted = shown
    assert noted == [report.as_uri()]
    assert opened.title() == "Audit of 5 cooks"
    assert opened.locator("figure svg").count() == 3
    assert "alert(" in opened.locator("tbody").first.inner_text()


def test_every_picture_is_drawn(shown: tuple[Any, list[str]]) -> None:
    from matplotlib.image import imread

    opened, _ = shown
    for figure in opened.locator("figure svg").all():
        pixels = imread(io.BytesIO(figure.screenshot()))[..., :3]
        assert min(pixels.shape[:2]) > 100
        inked = float((pixels.min(axis=2) < 0.9).mean())
        assert 0.01 < inked < 0.6


def test_nothing_sticks_out_of_a_small_screen(shown: tuple[Any, list[str]]) -> None:
    opened, _ = shown
    for width in (360, 1000):
        opened.set_viewport_size({"width": width, "height": 800})
        assert opened.evaluate("document.documentElement.scrollWidth") <= width


def test_it_prints(shown: tuple[Any, list[str]]) -> None:
    printed = shown[0].pdf(format="A4")
    assert printed.startswith(b"%PDF")
    assert 2 <= printed.count(b"/Type /Page\n") <= 8


def test_it_is_fit_for_all_readers(shown: tuple[Any, list[str]]) -> None:
    """The rules of axe, a library that checks pages for what keeps people from reading them."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")
    found = axe.Axe().run(shown[0])
    assert found.violations_count == 0, found.generate_report()
