"""What a person sees, hears and does on the page at /."""

import json
import re
from xml.etree import ElementTree

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from tests.page.conftest import REGULAR

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
MOST_BYTES = 300_000
SERIOUS = ("serious", "critical")
OPEN_ALL = "(all) => all.forEach((one) => { one.open = true; })"
DROP = """(text) => {
    const data = new DataTransfer();
    data.items.add(new File([text], 'mine.ndjson'));
    document.dispatchEvent(new DragEvent('drop', { dataTransfer: data, cancelable: true, bubbles: true }));
}"""


def serious(page):
    """What the automatic checks of accessibility find, without trifles."""
    found = Axe().run(page).response["violations"]
    return [(one["id"], one["nodes"][0]["html"]) for one in found if one["impact"] in SERIOUS]


def drawn(seen, part):
    """How much of a part of the picture there is."""
    return len(seen.page.locator(f"svg.picture .{part}").first.get_attribute("d") or "")


def test_first_decision_is_drawn_within_a_second_and_the_cook_plays_on(open_page):
    seen = open_page()
    seen.choose(REGULAR)
    assert 0 < seen.page.evaluate("performance.measure('first', 'chosen', 'drawn').duration") < 1000
    expect(seen.page.locator("#moment")).to_have_text(re.compile(r"^[1-9]\d+ of 185 s$"))
    seen.page.get_by_role("button", name="Pause").click()
    at_s = seen.page.locator("#scrub").input_value()
    seen.page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    assert seen.page.locator("#scrub").input_value() == at_s
    sizes = dict(
        seen.page.evaluate(
            "[...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')]"
            ".map((one) => [new URL(one.name).pathname, one.transferSize])"
        )
    )
    assert len(sizes) > 10
    assert 50_000 < sum(size for path, size in sizes.items() if not path.startswith("/v1/")) < MOST_BYTES
    assert seen.page.evaluate("localStorage.length + sessionStorage.length") == 0
    assert not seen.page.context.cookies()
    seen.was_quiet()


def test_everything_can_be_done_with_the_keyboard(open_page):
    seen = open_page(reduced_motion="reduce")
    page = seen.page
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the cook")).to_be_focused()
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    first = page.get_by_role("button", name=REGULAR)
    expect(first).to_be_focused()
    assert first.evaluate("(button) => getComputedStyle(button).outlineStyle") == "solid"
    page.keyboard.press("Enter")
    seen.answered()
    expect(page.locator("#watch")).to_be_focused()
    slider = page.get_by_label("Moment of the cook")
    for _ in range(7):
        page.keyboard.press("Tab")
    expect(slider).to_be_focused()
    page.keyboard.press("End")
    assert "stop" in seen.text(".badge")
    page.keyboard.press("Home")
    page.keyboard.press("ArrowRight")
    assert slider.input_value() == "0.5"
    assert slider.get_attribute("aria-valuetext") == "1 of 185 seconds"
    seen.was_quiet()


def test_cook_does_not_play_by_itself_where_motion_is_unwelcome(still):
    expect(still.page.get_by_role("button", name="Play", exact=True)).to_be_visible()
    assert float(still.page.locator("#scrub").input_value()) <= 2


def test_moment_can_be_moved_back_and_forth(still):
    label = still.page.get_by_role("img")
    still.scrub(30)
    assert "continue" in still.text(".badge")
    expect(label).to_have_attribute("aria-label", re.compile("no forecast yet"))
    early = drawn(still, "bars")
    still.scrub(185)
    assert "stop" in still.text(".badge")
    assert "inside that window" in still.text(".outcome")
    expect(label).to_have_attribute("aria-label", re.compile(r"\bstop\b"))
    assert drawn(still, "bars") > early
    assert drawn(still, "stops") > 0
    still.scrub(30)
    assert "continue" in still.text(".badge")
    assert still.text(".outcome") == ""
    assert drawn(still, "bars") == early
    assert drawn(still, "stops") == 0


def test_forecast_closes_in(still):
    widths = []
    for moment_s in (90, 110, 120):
        still.scrub(moment_s)
        widths.append(still.page.locator("svg.picture .span").first.bounding_box()["width"])
    assert widths[0] > widths[1] > widths[2] > 0
    assert re.search(r"^forecast \d+ to \d+ s$", still.text("svg .at-forecast"))
    assert re.search(r"^deadline \d+ s$", still.text("svg .at-deadline"))


def test_picture_is_clicked_to_go_to_a_moment(still):
    box = still.page.get_by_role("img").bounding_box()
    still.page.mouse.click(box["x"] + box["width"] / 2, box["y"] + 120)
    assert 80 < float(still.page.locator("#scrub").input_value()) < 110


def test_changes_of_the_decision_are_told_listed_and_gone_to(still):
    status = still.page.get_by_role("status")
    still.page.locator(".changes summary").first.click()
    still.page.locator(".changes tbody tr").filter(has_text="warn").first.get_by_role("button").click()
    expect(status).to_have_text(re.compile(r"^At \d+ s: warn\. \w"))
    still.page.get_by_role("button", name="Later change").click()
    expect(status).to_have_text(re.compile(r"^At \d+ s: stop\. \w"))
    still.page.get_by_role("button", name="Earlier change").click()
    assert "warn" in still.text(".badge")


def test_picture_is_saved_as_an_svg_that_stands_alone(still, tmp_path):
    still.page.emulate_media(color_scheme="dark", reduced_motion="reduce")
    still.scrub(120)
    with still.page.expect_download() as coming:
        still.page.get_by_role("button", name="Save the picture").click()
    assert coming.value.suggested_filename == "popcorn-a-regular-bag-120s.svg"
    coming.value.save_as(tmp_path / "picture.svg")
    text = (tmp_path / "picture.svg").read_text(encoding="utf-8")
    root = ElementTree.fromstring(text)  # noqa: S314 (the page wrote it)
    said = " ".join(root.itertext())
    assert "An invented cook." in said
    assert re.search(r"(continue|warn) at 120 s: \w", said)
    assert "var(" not in text
    assert not re.search(r"href|url\((?!\"?#)", text)
    shown = still.page.context.new_page()
    shown.goto((tmp_path / "picture.svg").as_uri())
    assert shown.locator("text", has_text="Vapour").first.bounding_box()["width"] > 20
    assert shown.locator("rect.ground").first.evaluate("(one) => getComputedStyle(one).fill") == "rgb(25, 26, 28)"
    shown.close()
    still.page.emulate_media(color_scheme="light", reduced_motion="reduce")


def test_two_setups_are_compared_side_by_side(still):
    page = still.page
    page.locator("details").evaluate_all(OPEN_ALL)
    page.get_by_label("Compare two setups").check()
    form = page.locator("#setup-forms form").nth(1)
    assert form.get_by_label("Rated output").input_value() == "1050"
    form.get_by_label("Silence between pops").fill("4")
    form.get_by_role("button", name="Ask again").click()
    still.answered()
    assert "gap_s 4" in still.text(".name", 1)
    still.scrub(144)
    assert "stop" in still.text(".badge", 0)
    assert "stop" not in still.text(".badge", 1)
    left, right = (page.get_by_role("img").nth(at).bounding_box() for at in (0, 1))
    assert left["x"] + left["width"] < right["x"]
    assert left["y"] == right["y"]
    assert not serious(page)
    form.get_by_label("Oven profile").fill("{")
    form.get_by_role("button", name="Ask again").click()
    assert "gap_s 4" in still.text(".name", 1)
    form.get_by_label("Oven profile").fill('{"sensor_lag_s": 6}')
    form.get_by_role("button", name="Ask again").click()
    still.answered()
    assert still.text(".name", 1).endswith("gap_s 4, an oven profile.")
    form.get_by_role("button", name="As in the log").click()
    assert "as in the log" in still.text(".name", 1)
    page.get_by_label("Compare two setups").uncheck()
    expect(page.get_by_role("img")).to_have_count(1)


@pytest.mark.parametrize(("text", "told"), [("", "is empty"), ("<svg/>\n", "is no log"), ("[1]\n", "is no log")])
def test_file_that_is_no_log_is_refused_in_words(still, tmp_path, text, told):
    file = tmp_path / "other.txt"
    file.write_text(text)
    still.page.locator("#file").set_input_files(file)
    expect(still.page.get_by_role("alert")).to_contain_text(told)


def test_dropped_log_is_played_and_its_wrong_lines_are_listed(still, invented):
    lines = invented["popcorn"][1].read_text(encoding="utf-8").splitlines()[:20]
    lines[2] = lines[2].replace('"level":1.0', '"level":7.0')
    still.page.evaluate(DROP, "\n".join([*lines, "no json at all"]))
    expect(still.page.get_by_role("heading", name="mine.ndjson")).to_be_visible()
    still.answered()
    told = still.page.locator(".wrong li").all_inner_texts()
    assert [one.partition(":")[0] for one in told] == ["Line 3", "Line 21"]
    assert "/readings/power/0/level" in told[0]
    assert still.page.locator("#moment").inner_text().endswith("20 s")


def test_log_with_a_programme_of_its_own_keeps_it_under_another_setup(still, invented, tmp_path):
    lines = invented["popcorn"][1].read_text(encoding="utf-8").splitlines()[:10]
    own = still.page.evaluate("fetch('/v1/programs/popcorn').then((answer) => answer.json())")
    file = tmp_path / "own.ndjson"
    file.write_text("\n".join([json.dumps(json.loads(lines[0]) | {"program": own}), *lines[1:]]))
    still.page.locator("#file").set_input_files(file)
    expect(still.page.get_by_role("heading", name="own.ndjson")).to_be_visible()
    still.answered()
    form = still.page.locator("#setup-forms form").first
    assert form.get_by_label("Programme").locator("option").all_inner_texts()[0] == "as in the log"
    form.get_by_label("Most heating").fill("20")
    form.get_by_role("button", name="Ask again").click()
    still.answered()
    assert "max_heating_s 20" in still.text(".name")
    assert still.page.locator(".wrong:visible").count() == 0
    still.scrub(10)
    assert re.match(r"\d\d s;", still.text(".facts .deadline"))


def test_of_two_choices_the_later_one_is_shown_whichever_comes_first(open_page, tmp_path):
    seen = open_page(reduced_motion="reduce")
    held = []
    seen.page.route("**/popcorn.ndjson", lambda route: held.append(route))
    with seen.page.expect_request("**/popcorn.ndjson"):
        seen.page.get_by_role("button", name=REGULAR).click()
    file = tmp_path / "later.ndjson"
    file.write_text('{"program":"popcorn","as_of":1.0,"readings":{}}\n')
    seen.page.locator("#file").set_input_files(file)
    expect(seen.page.get_by_role("heading", name="later.ndjson")).to_be_visible()
    with seen.page.expect_event("requestfinished", lambda request: request.url.endswith("popcorn.ndjson")):
        held[0].continue_()
    seen.page.evaluate("new Promise((drawn) => requestAnimationFrame(() => setTimeout(drawn)))")
    assert seen.page.get_by_role("heading", name=REGULAR).count() == 0
    expect(seen.page.get_by_role("heading", name="later.ndjson")).to_be_visible()
    seen.was_quiet()


def test_log_that_comes_late_does_not_replace_a_cook_chosen_meanwhile_from_the_same_file(open_page, invented, tmp_path):
    seen = open_page(reduced_motion="reduce")
    end = '\n{"outcome":{"kernels_left":23,"kernels_total":397}}\n'
    file = tmp_path / "two.ndjson"
    file.write_text(("\n".join(invented["popcorn"][1].read_text(encoding="utf-8").splitlines()[:5]) + end) * 2)
    seen.page.locator("#file").set_input_files(file)
    expect(seen.page.get_by_role("heading", name="two.ndjson")).to_be_visible()
    held = []
    seen.page.route("**/popcorn.ndjson", lambda route: held.append(route))
    with seen.page.expect_request("**/popcorn.ndjson"):
        seen.page.get_by_role("button", name=REGULAR).click()
    seen.page.get_by_label("Cook of this file").select_option("2 of 2")
    with seen.page.expect_event("requestfinished", lambda request: request.url.endswith("popcorn.ndjson")):
        held[0].continue_()
    seen.page.evaluate("new Promise((drawn) => requestAnimationFrame(() => setTimeout(drawn)))")
    assert seen.page.get_by_role("heading", name=REGULAR).count() == 0
    expect(seen.page.get_by_role("heading", name="two.ndjson")).to_be_visible()
    seen.was_quiet()


def test_file_of_several_cooks_offers_each_with_what_was_found(still, invented, tmp_path):
    end = '\n{"outcome":{"kernels_left":23,"kernels_total":397}}\n'
    logs = [invented[name][1].read_text(encoding="utf-8").splitlines() for name in ("popcorn", "reheat")]
    file = tmp_path / "cooks.ndjson"
    file.write_text("".join("\n".join(lines[:count]) + end for lines, count in zip(logs, (40, 60), strict=True)))
    still.page.get_by_label("Or drop a log here").set_input_files(file)
    expect(still.page.get_by_role("heading", name="cooks.ndjson")).to_be_visible()
    still.answered()
    assert "kernels left 23" in still.text(".found")
    still.page.get_by_label("Cook of this file").select_option("2 of 2")
    still.answered()
    assert "none, or not used" in still.text(".facts .sound")


def test_key_is_asked_for_where_one_is_needed_and_kept_in_memory_alone(open_page, keyed):
    address, secret = keyed
    seen = open_page(address, reduced_motion="reduce")
    page = seen.page
    page.get_by_role("button", name=REGULAR).click()
    expect(page.get_by_role("alert")).to_contain_text("key")
    field = page.get_by_label("Bearer key")
    expect(field).to_be_focused()
    field.fill("wrong")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("not known")
    field.fill(secret)
    page.keyboard.press("Enter")
    seen.answered()
    expect(page.get_by_role("alert")).to_be_empty()
    assert secret not in json.dumps([page.url, page.context.storage_state(), seen.requested])
    page.reload()
    page.get_by_role("button", name=REGULAR).click()
    expect(page.get_by_role("alert")).to_contain_text("key")
    # The browser itself notes each refusal, and nothing else is wrong.
    assert all("401" in one for one in seen.complaints)


def test_phone_in_the_dark_shows_everything_without_running_off_its_side(open_page):
    seen = open_page(color_scheme="dark", reduced_motion="reduce", **PHONE)
    page = seen.page
    seen.choose("Popcorn, the microphone dies")
    page.locator("details").evaluate_all(OPEN_ALL)
    seen.scrub(115)
    assert "warn" in seen.text(".badge")
    assert not serious(page)
    heights = page.locator("button:visible, select:visible").evaluate_all("(all) => all.map((one) => one.offsetHeight)")
    assert min(heights) >= 24
    for width in (390, 320):
        page.set_viewport_size({"width": width, "height": 844})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    seen.was_quiet()
