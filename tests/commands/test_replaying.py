"""A log played again, line by line."""

import pytest

from service.client import in_process
from service.replaying import replayed
from tests.commands.running import COOK

LINES = COOK.read_bytes().splitlines()


@pytest.fixture(scope="module")
def ask():
    return in_process()


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (b"{", "Expecting property name"),
        (b"\xff", "not UTF-8"),
        (b"[]", "expected an object; received a list"),
        (b'{"as_of": 4, "as_of": 5}', "the name 'as_of' stands twice"),
        (b'{"as_of": 9000}', "/as_of"),
        (b'{"as_of": NaN}', "/as_of"),
        (b'{"as_of": 1}', "/as_of"),
        (b'{"readings": {"pops": ["x"]}}', "/readings/pops/0"),
        (b'{"state": "abc"}', "/state"),
        (b'{"program": "toast"}', "/program"),
    ],
)
def test_wrong_line_is_answered_in_its_place(ask, wrong, said):
    answers = list(replayed([*LINES[:3], wrong, *LINES[3:5]], ask))
    assert [answer.line for answer in answers] == [1, 2, 3, 4, 5, 6]
    assert [answer.refused for answer in answers] == [False, False, False, True, False, False]
    assert said in answers[3].document["detail"]
    assert answers[3].document["line"] == 4
    without = list(replayed(LINES[:5], ask))
    assert [answer.document for answer in answers if not answer.refused] == [answer.document for answer in without]


def test_no_answer_holds_a_state(ask):
    assert all("state" not in answer.document for answer in replayed(LINES[:5], ask))


def test_log_that_never_names_its_programme_is_wrong_on_every_line(ask):
    answers = list(replayed([b'{"as_of": 1}', b'{"as_of": 2}'], ask))
    assert [answer.document["errors"][0]["pointer"] for answer in answers] == ["/program", "/program"]


def test_nothing_is_answered_to_nothing(ask):
    assert list(replayed([], ask)) == []
    assert list(replayed([b"", b"  \n"], ask)) == []
