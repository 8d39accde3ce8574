"""`cookstop compare` tells where two services part on the same logs, and says so to whatever started it."""

import json
import socket

import pytest
from click.testing import CliRunner

from schemas.programme import ProgrammeSchema
from service.changed_answers import RecordError, ShortAnswer, compared, record_line, recorded
from service.commands.compare import compare
from service.programs.programme import shipped
from tests.commands.running import COOK

LINES = COOK.read_text().splitlines()


def thinned(every_s):
    """The invented cook, with a post every few seconds."""
    posts = [json.loads(line) for line in LINES]
    for at in range(0, len(posts), every_s):
        group = posts[at : at + every_s]
        readings = {}
        for post in group:
            for kind, values in post["readings"].items():
                readings.setdefault(kind, []).extend(values)
        yield {**group[0], "as_of": group[-1]["as_of"], "readings": readings}


@pytest.fixture
def kitchen(tmp_path):
    """A folder with two logs, one of them in a folder of its own and of two cooks."""
    posts = [json.dumps(post) + "\n" for post in thinned(6)]
    (tmp_path / "monday").mkdir()
    (tmp_path / "cook.ndjson").write_text("".join(posts))
    (tmp_path / "monday" / "two.ndjson").write_text("".join([*posts, '{"outcome": {}}\n', *posts]))
    (tmp_path / "notes.txt").write_text("no log\n")
    return tmp_path


def run(*arguments):
    return CliRunner().invoke(compare, [str(argument) for argument in arguments])


def documents(told):
    return [json.loads(line) for line in told.stdout.splitlines()]


def test_what_was_kept_is_what_is_answered_again(kitchen):
    kept = run("--record", kitchen)
    assert (kept.exit_code, kept.stdout) == (0, "")
    told = run(kitchen)
    assert told.exit_code == 0, told.stderr
    rows = told.stdout.splitlines()
    assert [row.split()[0] for row in rows[1:4]] == ["cook.ndjson", "two.ndjson", "two.ndjson"]
    assert all(row.endswith("the same") for row in rows[1:4])
    assert rows[4:] == ["0 of 3 cooks changed"]


def test_records_among_the_logs_are_passed_over(kitchen):
    run("--record", kitchen)
    told = run("--format", "ndjson", *sorted(kitchen.glob("*.ndjson")))
    assert told.exit_code == 0
    assert [cook["log"].rpartition("/")[2] for cook in documents(told)] == ["cook.ndjson"]


def test_answer_that_changed_is_shown_and_fails(kitchen):
    run("--record", kitchen)
    record = kitchen / "cook.decisions.ndjson"
    kept = record.read_text().splitlines()
    at = next(number for number, line in enumerate(kept) if '"stop"' in line)
    kept[at] = kept[at].replace('"stop"', '"warn"')
    record.write_text("\n".join(kept) + "\n")
    told = run(kitchen)
    assert told.exit_code == 1
    assert "stop -6 s; decision on 1; first on line" in told.stdout
    assert told.stdout.splitlines()[-1] == "1 of 3 cooks changed; stops earlier 1, later 0, by 6 s at most"


def test_another_programme_is_compared_cook_by_cook(kitchen):
    told = run("--before", "here", "--after-program", "reheat", "--format", "ndjson", kitchen)
    assert told.exit_code == 1
    cooks = documents(told)
    assert [(cook["log"].rpartition("/")[2], cook["cook"]) for cook in cooks] == [
        ("cook.ndjson", 1),
        ("two.ndjson", 1),
        ("two.ndjson", 2),
    ]
    assert all(cook["changed"] and cook["rules"] > 0 for cook in cooks)
    assert cooks[0]["before"] == cooks[2]["before"]
    assert cooks[0]["before"]["stop_s"] == pytest.approx(json.loads(LINES[-1])["as_of"], abs=60.0)
    assert cooks[0]["before"]["stop_rule"] != cooks[0]["after"]["stop_rule"]


@pytest.mark.parametrize(("gap_s", "status"), [(2.0, 0), (4.0, 1)])
def test_programme_of_ones_own_is_compared(kitchen, gap_s, status):
    programme = ProgrammeSchema().dump(shipped()["popcorn"])
    programme["values"]["gap_s"]["value"] = gap_s
    (kitchen / "own.json").write_text(json.dumps(programme))
    told = run(
        "--before", "here", "--after-program", kitchen / "own.json", "--format", "ndjson", kitchen / "cook.ndjson"
    )
    assert told.exit_code == status, told.stderr
    (cook,) = documents(told)
    assert (cook["after"]["stop_s"] > cook["before"]["stop_s"]) == bool(status)


def test_server_answers_as_this_version_does(kitchen, server):
    told = run("--before", server, "--after", "here", "--format", "ndjson", kitchen / "cook.ndjson")
    assert told.exit_code == 0, told.stderr
    assert [cook["changed"] for cook in documents(told)] == [False]


def test_programme_that_is_not_known_is_a_change_that_says_so(kitchen):
    told = run("--before", "here", "--after-program", "toast", kitchen / "cook.ndjson")
    assert told.exit_code == 1
    assert "-> refused, /problems/wrong-input" in told.stdout


def _dead_url():
    with socket.create_server(("127.0.0.1", 0)) as listener:
        return f"http://127.0.0.1:{listener.getsockname()[1]}"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "see --record"),
        (["--before", "there"], "expected URL|here|record"),
        (["--before-program", "reheat"], "a record was made with one programme"),
        (["--before", "here", "--after", _dead_url()], "no answer"),
        (["--before", "here", "--after-program", "missing.toml"], "missing.toml"),
        (["--tolerance", "-1"], "--tolerance"),
    ],
)
def test_what_cannot_be_told_is_another_status(kitchen, arguments, said):
    told = run(*arguments, kitchen)
    assert told.exit_code == 2
    assert said in told.stderr


def test_folder_without_a_log_cannot_be_told(tmp_path):
    assert run(tmp_path).exit_code == 2


@pytest.mark.parametrize("kept", ["", "{}\n", '{"line": 1, "verdict": "warn", "remaining_s": null}\n', "[\n"])
def test_record_of_another_log_cannot_be_told(kitchen, kept):
    (kitchen / "cook.decisions.ndjson").write_text(kept)
    told = run(kitchen / "cook.ndjson")
    assert told.exit_code == 2
    assert "cook.ndjson" in told.stderr


def told_at(line, verdict, why="popping", stop_by_s=90.0, remaining_s=(10.0, 8.0, 12.0)):
    return ShortAnswer(
        line=line, verdict=verdict, why=why, as_of_s=float(line), stop_by_s=stop_by_s, remaining_s=remaining_s
    )


BEFORE = [told_at(1, "continue"), told_at(2, "warn", "end-near"), told_at(3, "stop", "forecast-reached")]


@pytest.mark.parametrize(
    ("change", "counts"),
    [
        ({}, (0, 0, 0, 0)),
        ({"stop_by_s": 90.09, "remaining_s": (10.05, 8.0, 12.09)}, (0, 0, 0, 0)),
        ({"stop_by_s": 90.2}, (0, 0, 1, 0)),
        ({"remaining_s": (10.0, 8.0, 12.2)}, (0, 0, 0, 1)),
        ({"remaining_s": None}, (0, 0, 0, 1)),
        ({"why": "sensors-disagree"}, (0, 1, 0, 0)),
        ({"verdict": "stop", "why": "silence-heard"}, (1, 1, 0, 0)),
    ],
)
def test_each_way_to_differ_is_counted(change, counts):
    fields = {"verdict": "warn", "why": "end-near"} | change
    (cook,) = compared(BEFORE, [BEFORE[0], told_at(2, **fields), BEFORE[2]], 0.1)
    assert (cook.verdicts, cook.rules, cook.deadlines, cook.forecasts) == counts
    assert cook.changed == any(counts)
    assert cook.first == ((BEFORE[1], told_at(2, **fields)) if cook.changed else None)
    assert (cook.before.warn_s, cook.before.stop_s, cook.before.stop_rule) == (2.0, 3.0, "forecast-reached")


def test_what_moves_by_as_much_as_is_tolerated_is_the_same() -> None:
    moved = [BEFORE[0], told_at(2, "warn", "end-near", stop_by_s=90.5, remaining_s=(10.5, 8.0, 12.5)), BEFORE[2]]
    assert [cook.changed for cook in compared(BEFORE, moved, 0.5)] == [False]
    assert [cook.changed for cook in compared(BEFORE, moved, 0.4)] == [True]
    assert [cook.changed for cook in compared(BEFORE, BEFORE, 0.0)] == [False]


def test_an_outcome_that_one_of_the_two_refuses_ends_the_cook_all_the_same() -> None:
    over, refused = ShortAnswer(line=4, verdict="over"), ShortAnswer(line=4, verdict="refused", why="wrong-input")
    second = told_at(5, "continue")
    cooks = list(compared([*BEFORE, over, second], [*BEFORE, refused, second], 0.1))
    assert [(cook.answers, cook.changed) for cook in cooks] == [(4, True), (1, False)]


def test_answers_to_other_lines_are_not_compared():
    with pytest.raises(RecordError, match="another log"):
        list(compared(BEFORE, BEFORE[:2], 0.1))
    with pytest.raises(RecordError, match="another log"):
        list(compared(BEFORE, [BEFORE[0], BEFORE[2], BEFORE[1]], 0.1))


def test_what_is_kept_is_read_again():
    answers = [
        *BEFORE,
        ShortAnswer(line=4, verdict="refused", why="/problems/wrong-input"),
        ShortAnswer(line=5, verdict="over"),
    ]
    assert list(recorded(record_line(one).encode() for one in answers)) == answers
