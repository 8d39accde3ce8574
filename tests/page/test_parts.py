"""The files of the page as they are served, and the invented cooks that it offers."""

import hashlib
import json
import re
from importlib.resources import files

import pytest

from service.programs.programme import shipped
from tests.page.colours import SIGHTS, contrast, difference, seen

FOLDER = files("service.web") / "static" / "page"
NAMES = sorted(one.name for one in FOLDER.iterdir())
OWN = [name for name in NAMES if not name.startswith("d3")]
# What `tests/page/gather_d3.sh` writes; a library that was meddled with is no longer the one that others look after.
D3 = "8dd19a224a5e97849ba82bd74d905f3b08548afd976163c49d9c38776a0a889b"
STYLE = (FOLDER / "page.css").read_text(encoding="utf-8")


@pytest.fixture(params=["light", "dark"])
def colours(request):
    """The colours of the page by name."""
    themes = dict(zip(("light", "dark"), re.findall(r":root \{(.*?)\}", STYLE, re.DOTALL), strict=True))
    return dict(re.findall(r"--(\w+): (#[0-9a-f]{6});", themes[request.param]))


def path(name):
    return "/" if name == "page.html" else f"/page/{name}"


@pytest.mark.parametrize("name", NAMES)
def test_part_is_served_once(client, name):
    answer = client.get(path(name))
    assert answer.status_code == 200
    assert answer.data == (FOLDER / name).read_bytes()
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    again = client.get(path(name), headers={"If-None-Match": answer.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")


@pytest.mark.parametrize(
    "address", ["/page/", "/page/nothing.js", "/page/../page.py", "/page/%2e%2e/page.py", "/page/page.html"]
)
def test_nothing_else_is_served(client, address):
    assert client.get(address).status_code == 404


def test_page_may_fetch_nothing_from_elsewhere_and_take_no_text_for_markup(client):
    policy = client.get("/").headers["Content-Security-Policy"]
    assert set(re.findall(r"'[\w-]+'|https?:\S*|\*|data:", policy)) == {"'none'", "'self'", "'script'"}
    assert "default-src 'none'" in policy
    assert "require-trusted-types-for 'script'" in policy


@pytest.mark.parametrize("name", OWN)
def test_own_parts_name_no_other_place_and_put_nothing_in_as_markup(name):
    text = (FOLDER / name).read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
    assert not re.search(r"(https?:)?//[a-z0-9.-]+\.[a-z]{2,}", text)
    assert not re.search(
        r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|eval\(|<style|\son\w+=\"|style=",
        text.replace("<style>${", ""),
    )


def test_drawing_library_is_as_it_was_published_and_has_its_licence_beside_it():
    assert hashlib.sha256((FOLDER / "d3.js").read_bytes()).hexdigest() == D3
    assert "Permission to use, copy, modify" in (FOLDER / "d3-licence.txt").read_text(encoding="utf-8")


def test_page_with_all_its_parts_and_the_largest_cook_weighs_little(client):
    parts = sum(len((FOLDER / name).read_bytes()) for name in NAMES) + len(client.get("/page/cooks.json").data)
    largest = max(len(client.get(cook["log"]).data) for cook in client.get("/page/cooks.json").json["cooks"])
    assert parts + largest < 300_000


def test_every_invented_cook_is_marked_listed_and_covers_its_good_stop(client, invented):
    listed = {cook["name"]: cook for cook in client.get("/page/cooks.json").json["cooks"]}
    assert listed.keys() == invented.keys()
    assert len(listed) > 3
    for name, cook in listed.items():
        posts = [json.loads(line) for line in client.get(cook["log"]).text.splitlines()]
        assert cook["invented"] is True
        assert cook["about"].startswith("An invented cook")
        assert posts[0]["program"] in shipped()
        assert name.startswith(posts[0]["program"])
        assert cook["stop_window_s"][0] < cook["stop_window_s"][1] < posts[-1]["as_of"]


def test_text_stands_out_from_its_ground(colours):
    """WCAG 2.2, success criterion 1.4.3: a contrast of 4.5 to 1 or more."""
    pairs = [(text, ground) for text in ("text", "quiet", "link") for ground in ("ground", "field")]
    for text, ground in [*pairs, ("onwarn", "warn"), ("onstop", "stop")]:
        assert contrast(colours[text], colours[ground]) >= 4.5


def test_what_is_drawn_stands_out_from_its_ground(colours):
    """WCAG 2.2, success criterion 1.4.11: a contrast of 3 to 1 or more. What warns is hatched and framed besides."""
    for drawn in ("sound", "steam", "stop", "edge", "link"):
        assert contrast(colours[drawn], colours["ground"]) >= 3.0


@pytest.mark.parametrize("sight", SIGHTS)
def test_sound_steam_warning_and_stop_are_told_apart_by_every_eye(colours, sight):
    """A difference of 20 in CIELAB is plain; the same colours are never told apart by hue alone."""
    for one, other in [("sound", "steam"), ("warn", "stop"), ("sound", "warn"), ("sound", "stop")]:
        assert difference(seen(colours[one], sight), seen(colours[other], sight)) > 20
