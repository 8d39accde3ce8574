"""A log played again over HTTP: an answer a line, as the lines come."""

import io
import json
import tracemalloc

import pytest

from tests.web.clients import client_with

NDJSON = "application/x-ndjson"


def replay(client, text, **options):
    """The answers to a log."""
    response = client.post("/v1/replays", data=text, content_type=NDJSON, **options)
    assert response.status_code == 200, response.data
    assert response.content_type == NDJSON
    return [json.loads(line) for line in response.data.splitlines()]


def text_of(posts):
    return "".join(json.dumps(post) + "\n" for post in posts).encode()


class Slowly(io.RawIOBase):
    """A body that comes a line at a time, and how much of it was taken."""

    def __init__(self, lines):
        super().__init__()
        self.lines = iter(lines)
        self.taken = 0

    def readable(self):
        return True

    def read(self, size=-1):
        line = next(self.lines, b"")
        self.taken += bool(line)
        return line


def streamed(client, lines):
    """A body without an end that is said, and the pieces of the answer as they come."""
    body = Slowly(lines)
    overrides = {"wsgi.input": body, "wsgi.input_terminated": True, "HTTP_TRANSFER_ENCODING": "chunked"}
    response = client.post("/v1/replays", content_type=NDJSON, environ_overrides=overrides)
    return body, response.response


def test_answers_are_those_of_the_same_posts_one_by_one(client, post, log):
    state = {}
    expected = []
    for line in log:
        answer = post(**line, **state).json
        state = {"state": answer.pop("state")}
        expected.append(answer)
    assert replay(client, text_of(log)) == expected


def test_no_answer_holds_a_state(client, log):
    assert all("state" not in answer for answer in replay(client, text_of(log[:5])))


def test_answers_are_not_to_be_stored(client):
    response = client.post("/v1/replays", data=b"", content_type=NDJSON)
    assert response.headers["Cache-Control"] == "no-store"


@pytest.mark.parametrize(
    ("wrong", "slug", "said"),
    [
        (b"{", "not-json", "Expecting property name"),
        (b"\xff", "not-json", "not UTF-8"),
        (b"[]", "wrong-input", "expected an object"),
        (b"[" * 1000, "not-json", "deep inside"),
        (b'{"as_of": 9000}', "wrong-input", "/as_of"),
        (b'{"as_of": NaN}', "wrong-input", "/as_of"),
        (b'{"as_of": 1}', "wrong-input", "/as_of"),
        (b'{"readings": {"pops": ["x"]}}', "wrong-input", "/readings/pops/0"),
        (b'{"state": "abc"}', "wrong-input", "/state"),
        (b'{"program": "toast"}', "wrong-input", "/program"),
        (b'{"setup": {"rated_w": 700}}', "wrong-input", "/setup"),
    ],
)
def test_wrong_line_is_answered_in_its_place_and_nothing_after_it_is_lost(client, log, wrong, slug, said):
    lines = text_of(log[:5]).splitlines(keepends=True)
    answers = replay(client, b"".join([*lines[:3], wrong + b"\n", *lines[3:]]))
    assert answers[3]["type"] == f"/problems/{slug}"
    assert answers[3]["line"] == 4
    assert said in answers[3]["detail"]
    assert answers[:3] + answers[4:] == replay(client, b"".join(lines))


def test_log_that_never_names_its_programme_is_wrong_on_every_line(client):
    answers = replay(client, b'{"as_of": 1}\n{"as_of": 2}\n')
    assert [answer["errors"][0]["pointer"] for answer in answers] == ["/program", "/program"]


def test_blank_lines_are_counted_but_not_answered(client):
    answers = replay(client, b'{"program": "popcorn"}\n\n  \r\n{\n')
    assert [answer.get("line") for answer in answers] == [None, 4]


@pytest.mark.parametrize("end", [b"", b"\n", b"\r\n"])
def test_last_line_needs_no_end(client, end):
    assert len(replay(client, b'{"program": "popcorn"}\n{"as_of": 2}' + end)) == 2


def test_nothing_is_answered_to_nothing(client):
    assert replay(client, b"") == []


@pytest.mark.parametrize("content_type", ["application/json", "text/plain", None])
def test_other_media_types_are_refused(client, content_type):
    assert client.post("/v1/replays", data=b"{}", content_type=content_type).status_code == 415


@pytest.mark.parametrize(("length", "is_taken"), [(99, True), (100, True), (101, False), (20_000, False)])
def test_line_is_taken_up_to_its_limit_and_nothing_after_a_longer_one_is_lost(length, is_taken):
    client = client_with(max_line_bytes=100)
    line = b'{"program": "popcorn"}'
    answers = replay(client, line + b" " * (length - len(line)) + b'\n{"program": "popcorn", "as_of": 7}\n')
    assert len(answers) == 2
    assert answers[1]["as_of"] == 7
    if is_taken:
        assert answers[0]["as_of"] == 0
    else:
        assert (answers[0]["type"], answers[0]["line"]) == ("/problems/line-too-long", 1)


@pytest.mark.parametrize("count", [2, 3, 4, 9])
def test_lines_are_taken_up_to_their_limit(count):
    answers = replay(client_with(max_lines=3), b'{"program": "popcorn"}\n' * count)
    assert ["decision" in answer for answer in answers[:3]] == [True] * min(count, 3)
    if count > 3:
        assert len(answers) == 4
        assert (answers[3]["type"], answers[3]["line"]) == ("/problems/too-many-lines", 4)


def test_body_may_be_longer_than_that_of_a_decision():
    answers = replay(client_with(max_body_bytes=100), b'{"program": "popcorn"}\n' * 50)
    assert len(answers) == 50


def test_cook_that_grows_too_large_is_refused_and_goes_on():
    client = client_with(max_readings_per_cook=10)
    posts = [
        {"program": "popcorn", "as_of": at, "readings": {"pops": [at * 4 + k for k in range(4)]}} for at in range(4)
    ]
    answers = replay(client, text_of(posts))
    assert [answer.get("type") for answer in answers] == [None, None, "/problems/wrong-input", "/problems/wrong-input"]


def test_answers_come_while_the_log_still_does(client):
    body, pieces = streamed(client, [b'{"program": "popcorn"}\n', b'{"as_of": 1}\n', b'{"as_of": 2}\n'])
    first = json.loads(next(pieces))
    assert (first["as_of"], body.taken) == (0.0, 1)
    assert json.loads(next(pieces))["as_of"] == 1.0
    assert body.taken == 2
    assert len(list(pieces)) == 1


def test_body_that_breaks_off_is_told_last(client):
    text = b'{"program": "popcorn"}\n{"as_of"'
    overrides = {"wsgi.input": io.BytesIO(text), "CONTENT_LENGTH": str(len(text) + 9)}
    response = client.post("/v1/replays", content_type=NDJSON, environ_overrides=overrides)
    answers = [json.loads(line) for line in response.data.splitlines()]
    assert answers[0]["decision"] == "continue"
    assert (answers[1]["type"], answers[1]["line"]) == ("/problems/bad-request", 2)
    assert len(answers) == 2


def test_memory_does_not_grow_with_the_log(client):
    def endless(count):
        yield b'{"program": "popcorn"}\n'
        yield from (b'{"readings": {"pops": [30.5]}}\n' for _ in range(count))
        yield from (b"x" * 4096 for _ in range(count))

    def peak(count):
        _, pieces = streamed(client, endless(count))
        tracemalloc.start()
        answered = sum(1 for _ in pieces)
        grown = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert answered == count + 2
        return grown

    peak(5)
    assert peak(500) < peak(100) + 200_000
