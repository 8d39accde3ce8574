"""What is told of a line of a log: the row of a decision is that of its whole answer, and so is its document."""

import json

import pytest

from schemas.answer import answer_of
from service.commands.table import row
from service.commands.told_answers import told_document, told_row
from service.fleet.settings import log_conversation, log_settings
from service.rules.decision import Decision
from service.web.log_replay import LogReplay
from tests.commands.running import COOK


@pytest.fixture(scope="module")
def found():
    log = LogReplay(log_conversation(), log_settings())
    lines = [*COOK.read_bytes().splitlines(), b'{"outcome": {"kernels_left": 3}}', b"{"]
    return [log.found(line, number)[0] for number, line in enumerate(lines, start=1)]


def test_row_of_a_decision_is_that_of_its_whole_answer(found):
    decisions = [one for one in found if isinstance(one, Decision)]
    assert len(decisions) == len(found) - 2
    assert [told_row("a.ndjson", one) for one in decisions] == [row(answer_of(one)) for one in decisions]
    assert len({told_row("a.ndjson", one) for one in decisions}) > len(decisions) // 2


def test_row_of_an_outcome_tells_it_and_a_wrong_line_has_none(found):
    outcome, wrong = found[-2:]
    assert "kernels_left: 3" in told_row("a.ndjson", outcome)
    assert told_row("a.ndjson", wrong) is None


def test_document_is_the_answer_and_says_of_which_log_where_there_are_several(found):
    for one in found:
        answer = answer_of(one) if isinstance(one, Decision) else one
        assert json.loads(told_document("a.ndjson", one, several=False)) == answer
        assert json.loads(told_document("a.ndjson", one, several=True)) == {"log": "a.ndjson", **answer}
