"""What an answer can say is written down where a user looks: every reason code and every piece of evidence."""

import re
from pathlib import Path

import pytest

from service.programs.programme import shipped
from service.readings.cook import EMPTY
from service.rules.decide import decide
from service.rules.table import RULES
from tests.cooks import NOTHING_SAID

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.code)
def test_every_reason_code_stands_in_the_readme_with_its_verdict_and_meaning(rule):
    assert f"| `{rule.code}` | {rule.verdict} | {rule.means} |" in README


def test_no_reason_code_is_documented_that_no_rule_has():
    documented = set(re.findall(r"^\| `([a-z-]+)` \| (?:stop|warn|continue) \|", README, flags=re.MULTILINE))
    assert documented == {rule.code for rule in RULES}


def test_every_piece_of_evidence_stands_in_the_readme_and_no_other():
    answers = [
        decide(programme=one, setup=NOTHING_SAID, cook=EMPTY, as_of_ms=10_000).evidence for one in shipped().values()
    ]
    told = {
        f"{sensor}.{field}"
        for evidence in answers
        for sensor, fields in evidence.items()
        for field in fields
        if field != "status"
    }
    assert told == set(re.findall(r"^\| `((?:acoustic|moisture|heating)\.[a-z_0-9]+)` \|", README, flags=re.MULTILINE))
