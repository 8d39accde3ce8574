"""How smoothly the page plays: `python -m tests.page --speed 20`.

Plays 60 s of an invented cook at so many times its speed under Chromium's own trace, and prints how long the longest frame, the
longest pause between two callbacks of the animation and the longest task of the page took, one row a way of showing it.
Beside them: how soon the first decision was drawn after a cook was chosen, and the processor time that a frame took of the
page's thread, which does not depend on what else the machine does.
"""

import argparse
import json
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from playwright.sync_api import Browser, Page, sync_playwright

from tests.deploy.processes import serving
from tests.page.conftest import REGULAR, launched

CATEGORIES = ["devtools.timeline", "disabled-by-default-devtools.timeline", "disabled-by-default-devtools.timeline.frame",
              "devtools.timeline.frame", "blink.user_timing", "toplevel"]  # fmt: skip
DESK = {"viewport": {"width": 1280, "height": 900}}
PHONE = {"viewport": {"width": 390, "height": 844}, "is_mobile": True, "has_touch": True, "device_scale_factor": 2}
HEADING = "shown             first ms  frames  longest frame ms  callback ms  task ms  work a frame ms"
FROM_S, PLAYED_S = 70.0, 60.0

Event = dict[str, Any]


def main() -> None:
    """Measure each way of showing a cook and print a row for it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--speed", default="20", choices=["1", "5", "10", "20", "60"])
    speed = parser.parse_args().speed
    print(HEADING)
    with sync_playwright() as playwright, serving(workers=2) as server:
        browser = launched(playwright)
        for name, profile, compare in [
            ("desk", DESK, False),
            ("desk, two setups", DESK, True),
            ("phone", PHONE, False),
        ]:
            page = browser.new_context(**profile).new_page()
            page.goto(f"http://127.0.0.1:{server.port}")
            print(f"{name:17} {first_ms(page, compare):8.0f} {row(traced(browser, page, speed))}")
            page.context.close()
        browser.close()


def first_ms(page: Page, compare: bool) -> float:
    """Choose the cook and wait for the whole of it; how soon its first decision was drawn."""
    page.get_by_role("button", name=REGULAR).click()
    page.locator(".changes tbody tr").first.wait_for(state="attached")
    if compare:
        page.locator("#setups summary").click()
        page.get_by_label("Compare two setups").check()
        page.locator(".changes tbody tr").last.wait_for(state="attached")
    took: float = page.evaluate("performance.measure('first', 'chosen', 'drawn').duration")
    return took


def traced(browser: Browser, page: Page, speed: str) -> list[Event]:
    """The trace of the cook as it plays."""
    page.get_by_label("Speed").select_option(speed)
    page.locator("#scrub").fill(str(FROM_S))
    browser.start_tracing(page=page, categories=CATEGORIES)
    page.evaluate("performance.mark('from')")
    page.get_by_role("button", name="Play", exact=True).click()
    page.wait_for_timeout(PLAYED_S / float(speed) * 1000)
    page.evaluate("performance.mark('to')")
    events: list[Event] = json.loads(browser.stop_tracing())["traceEvents"]
    assert float(page.locator("#scrub").input_value()) > FROM_S + 0.9 * PLAYED_S
    return events


def row(events: list[Event]) -> str:
    """What a trace says, in milliseconds."""
    marks = {event["name"]: event for event in events if event.get("cat") == "blink.user_timing"}
    from_us, to_us = marks["from"]["ts"], marks["to"]["ts"]
    process, thread = marks["from"]["pid"], marks["from"]["tid"]
    inside = [event for event in events if from_us <= event.get("ts", 0) <= to_us and event["pid"] == process]
    drawn = [from_us, *moments(inside, "DrawFrame"), to_us]
    called = [from_us, *moments(inside, "FireAnimationFrame"), to_us]
    tasks = [event for event in inside if event["name"] == "RunTask" and event["tid"] == thread]
    longest_task_ms = max(task.get("dur", 0) for task in tasks) / 1e3
    work_ms = sum(task.get("tdur", 0) for task in tasks) / 1e3 / (len(called) - 2)
    return f"{len(drawn) - 2:7} {longest_ms(drawn):17.0f} {longest_ms(called):12.0f} {longest_task_ms:8.0f} {work_ms:16.1f}"


def moments(events: list[Event], name: str) -> Iterator[float]:
    """When events of a name happened, in order."""
    yield from sorted(event["ts"] for event in events if event["name"] == name)


def longest_ms(moments_us: list[float]) -> float:
    """The longest stretch between two moments."""
    return max(later - earlier for earlier, later in pairwise(moments_us)) / 1e3


if __name__ == "__main__":
    main()
