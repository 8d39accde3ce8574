"""The line that ends a cook in a log: the same in a replay, at the service and in a file of many cooks."""

import json

import pytest

from schemas.outcome import OutcomeSchema
from service.client import in_process
from service.outcomes.outcome import Outcome
from service.programs.programme import shipped
from service.replaying import replayed
from service.web.conversation import Conversation
from service.web.cook_logs import CookRead, WrongLine, cooks_of
from service.web.settings import Settings
from service.web.tokens import Tokens
from tests.web.clients import KEY, client_with

SETTINGS = Settings(state_keys=(KEY,))
FIRST = b'{"program": "popcorn", "setup": {"load_g": 85}, "as_of": 90, "readings": {"pops": [85.5, 88]}}'
NEXT = b'{"as_of": 95, "readings": {"pops": [92.25]}}'
FOUND = b'{"outcome": {"stopped_s": 140, "stopped_by": "oven", "kernels_left": 43, "volume_cm3": 2800}}'
NOTHING = b'{"outcome": {}}'
TOLD = {
    "outcome": {"stopped_s": 140.0, "stopped_by": "oven", "kernels_left": 43, "volume_cm3": 2800.0},
    "found": {"unpopped_share": 0.1002, "expansion_cm3_per_g": 32.9412},
}


def cooks(*lines: bytes | None, settings: Settings = SETTINGS) -> list[CookRead | WrongLine]:
    conversation = Conversation(Tokens((KEY,), purpose="cook state", longest=65_536), shipped(), settings)
    return list(cooks_of(lines, conversation, settings))


def replay(*lines: bytes) -> list[dict[str, object]]:
    sent = b"\n".join(lines)
    answer = client_with().post("/v1/replays", data=sent, content_type="application/x-ndjson")
    return [json.loads(line) for line in answer.data.splitlines()]


def test_a_replay_answers_an_outcome_with_the_shares_that_follow_from_it() -> None:
    """85 g hold 429 kernels by the published mass of one; 43 of them are a tenth."""
    assert replay(FIRST, NEXT, FOUND)[2] == TOLD


def test_a_replay_by_single_posts_answers_the_same() -> None:
    answers = [answer.document for answer in replayed([FIRST, NEXT, FOUND, FIRST], in_process())]
    assert answers == replay(FIRST, NEXT, FOUND, FIRST)
    assert answers[2] == TOLD
    assert answers[3]["as_of"] == 90.0


@pytest.mark.parametrize("lines", [(FOUND, FIRST), (FIRST, FOUND, NOTHING)])
def test_an_outcome_without_a_cook_is_wrong(lines: tuple[bytes, ...]) -> None:
    at = lines.index(FOUND) if lines[0] == FOUND else 2
    answers = replay(*lines)
    assert answers[at]["line"] == at + 1
    assert "no line of one came before" in str(answers[at]["detail"])
    assert [answer.refused for answer in replayed(lines, in_process())] == [place == at for place in range(len(lines))]


@pytest.mark.parametrize(
    ("outcome", "pointer"),
    [
        ({"kernels_left": 2.5}, "/outcome/kernels_left"),
        ({"kernels_left": -1}, "/outcome/kernels_left"),
        ({"kernels_left": True}, "/outcome/kernels_left"),
        ({"kernels_left": None}, "/outcome/kernels_left"),
        ({"stopped_s": 90, "stopped_by": "cat"}, "/outcome/stopped_by"),
        ({"stopped_s": 90}, "/outcome"),
        ({"kernels_left": 9, "kernels_total": 8}, "/outcome"),
        ({"colour": "gold"}, "/outcome/colour"),
        ([], "/outcome"),
        (None, "/outcome"),
    ],
)
def test_a_wrong_outcome_is_told_with_its_place_and_the_cook_goes_on(outcome: object, pointer: str) -> None:
    line = json.dumps({"outcome": outcome}).encode()
    (wrong, after) = replay(FIRST, line, NEXT)[1:]
    assert wrong["errors"][0]["pointer"] == pointer  # type: ignore[index]
    assert after["as_of"] == 95.0


def test_nothing_else_stands_beside_an_outcome() -> None:
    assert replay(FIRST, b'{"outcome": {}, "as_of": 99}')[1]["errors"][0]["pointer"] == "/as_of"  # type: ignore[index]


def test_whole_numbers_may_be_written_with_a_point() -> None:
    assert OutcomeSchema().taken({"kernels_left": 12.0, "trial": 3}) == Outcome(kernels_left=12, trial=3)


def test_a_log_of_many_cooks_is_parted_at_their_outcomes() -> None:
    first, second = cooks(FIRST, NEXT, FOUND, b"", FIRST, NOTHING)
    assert isinstance(first, CookRead)
    assert isinstance(second, CookRead)
    assert (first.line, second.line) == (1, 5)
    assert first.finished.cook.pops_ms.tolist() == [85_500, 88_000, 92_250]
    assert first.finished.outcome.kernels_left == 43
    assert first.finished.setup.load_g == 85.0
    assert second.finished.cook.pops_ms.tolist() == [85_500, 88_000]
    assert second.finished.outcome == Outcome()


def test_a_cook_of_which_nothing_was_found_ends_where_the_next_begins_or_the_log_ends() -> None:
    first, second = cooks(FIRST, NEXT, FIRST)
    assert isinstance(first, CookRead)
    assert isinstance(second, CookRead)
    assert first.finished.cook.pops_ms.size == 3
    assert second.line == 3


def test_a_programme_that_is_said_again_begins_no_new_cook() -> None:
    again = b'{"program": "popcorn", "as_of": 95, "readings": {"pops": [92.25]}}'
    (only,) = cooks(FIRST, again, FOUND)
    assert isinstance(only, CookRead)
    assert only.finished.cook.pops_ms.size == 3


def test_wrong_lines_are_told_with_their_numbers_and_the_cook_goes_on() -> None:
    told = cooks(FIRST, b"{", None, b'{"state": "x"}', NEXT, FOUND)
    assert [one.line for one in told] == [2, 3, 4, 1]
    wrong = [one.refused.kind.slug for one in told if isinstance(one, WrongLine)]
    assert wrong == ["not-json", "line-too-long", "wrong-input"]


def test_a_log_of_too_many_lines_is_told_once_and_left() -> None:
    told = cooks(FIRST, NEXT, NEXT, NEXT, settings=Settings(state_keys=(KEY,), max_lines=2))
    assert [one.line for one in told if isinstance(one, WrongLine)] == [3]
    assert len(told) == 1
