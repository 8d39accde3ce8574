"""The description of the API and the page that shows it, as they are served."""

import re
from html.parser import HTMLParser
from importlib.resources import files

import pytest

PARTS = ["/docs", "/docs/docs.css", "/docs/docs.js"]


class Page(HTMLParser):
    """The elements of a page with their attributes."""

    def __init__(self, text):
        super().__init__()
        self.elements = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))


def test_description_is_served_as_it_was_committed(client):
    told = client.get("/openapi.json")
    assert told.content_type == "application/json"
    assert told.data == (files("schemas") / "openapi.json").read_bytes()


@pytest.mark.parametrize("path", ["/openapi.json", *PARTS])
def test_what_a_client_has_is_not_sent_again(client, path):
    etag = client.get(path).headers["ETag"]
    again = client.get(path, headers={"If-None-Match": etag})
    assert (again.status_code, again.data) == (304, b"")
    assert again.headers["ETag"] == etag
    assert client.get(path, headers={"If-None-Match": '"another"'}).status_code == 200


def test_page_needs_no_outside_network(client):
    text = "".join(client.get(path).text for path in PARTS)
    assert not re.search(r"(https?:)?//[a-z0-9.-]+\.[a-z]{2,}", text)
    page = Page(client.get("/docs").text)
    fetched = [
        attrs.get("src") or attrs.get("href") for tag, attrs in page.elements if tag in ("script", "link", "img")
    ]
    assert sorted(fetched) == ["/docs/docs.css", "/docs/docs.js"]
    assert "'self'" in client.get("/docs").headers["Content-Security-Policy"]


def test_nothing_is_put_into_the_page_as_markup(client):
    script = client.get("/docs/docs.js").text
    assert not re.search(r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|eval\(", script)
    page = client.get("/docs").text
    assert not re.search(r"<script>|<style|\son\w+=|style=", page)


def test_page_can_be_read_by_everyone(client):
    elements = Page(client.get("/docs").text).elements
    attributes = dict(elements)
    assert attributes["html"]["lang"] == "en"
    assert {"title", "header", "nav", "main", "h1", "noscript"} <= set(attributes)
    assert ("a", {"class": "skip", "href": "#main"}) in elements
    style = client.get("/docs/docs.css").text
    assert "prefers-color-scheme: dark" in style
    assert ":focus-visible" in style


def test_text_stands_out_from_its_ground_in_light_and_in_dark(client):
    """WCAG 2.2, success criterion 1.4.3: a contrast of 4.5 to 1 or more."""
    light, dark = re.findall(r":root \{(.*?)\}", client.get("/docs/docs.css").text, re.DOTALL)
    for theme in (light, dark):
        colours = dict(re.findall(r"--(\w+): (#[0-9a-f]{6});", theme))
        for text in ("text", "quiet", "link"):
            for ground in ("ground", "field"):
                assert contrast(colours[text], colours[ground]) >= 4.5


def contrast(one, other):
    """The contrast of two colours as WCAG 2.2 defines it."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def luminance(colour):
    """The relative luminance of a colour as WCAG 2.2 defines it."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_parts_that_are_not_there_are_not_found(client):
    assert client.get("/docs/nothing.js").status_code == 404
    assert client.get("/docs/../settings.py").status_code == 404
