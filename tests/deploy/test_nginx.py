"""The shipped front, run for real: what it lets through, what it refuses and in what form."""

import json
import re
import socket
import subprocess
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from http.client import HTTPResponse, HTTPSConnection

import pytest

from service.web.problems import BY_SLUG
from tests.deploy.client import PATH, Client, front_connection
from tests.deploy.cooks import logs
from tests.deploy.front import HOST, NGINX, SHIPPED, Front, command, folder_of_front, fronted
from tests.deploy.processes import LOOPBACK, Server, serving, until
from tests.ports import free_port

pytestmark = pytest.mark.skipif(NGINX is None, reason="nginx is not installed: its configuration cannot be tried")

JSON = {"Content-Type": "application/json"}


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with serving(workers=2) as running:
        yield running


@pytest.fixture
def front(server: Server) -> Iterator[Front]:
    with fronted([server.port]) as running:
        yield running


def ask(
    connection: HTTPSConnection, method: str, path: str, headers: Mapping[str, str] | None = None, body: bytes = b""
) -> HTTPResponse:
    """One request; the body of its answer is for the caller to read."""
    connection.request(method, path, body or None, {**JSON, **(headers or {})})
    return connection.getresponse()


def chunk(data: bytes) -> bytes:
    """A part of a body whose length was not said."""
    return f"{len(data):x}\r\n".encode() + data + b"\r\n"


def problem(response: HTTPResponse) -> dict[str, object]:
    """The problem document of a refusal."""
    assert response.headers["Content-Type"] == "application/problem+json"
    document: dict[str, object] = json.loads(response.read())
    assert document["status"] == response.status
    assert {"type", "title", "detail"} <= document.keys()
    return document


def test_nginx_takes_the_shipped_files_without_a_warning() -> None:
    with folder_of_front([free_port()]) as folder:
        told = subprocess.run([*command(folder), "-t"], capture_output=True, text=True, check=False)
    assert told.returncode == 0
    assert "[warn]" not in told.stderr


def test_whole_cook_is_decided_through_the_front(front: Front) -> None:
    with Client(front.port, front=front, key="one") as client:
        decisions = [json.loads(answer)["decision"] for answer in client.cook(logs(1)[0])]
    assert decisions[-1] == "stop"
    assert client.retries == 0


def test_one_connection_serves_many_requests(front: Front) -> None:
    with front_connection(front) as connection:
        for _ in range(5):
            response = ask(connection, "GET", "/livez")
            assert response.status == 200
            response.read()
            assert not response.will_close


def test_plain_text_is_refused(front: Front) -> None:
    with socket.create_connection((LOOPBACK, front.port), timeout=10) as plain:
        plain.sendall(b"GET /livez HTTP/1.1\r\nHost: " + HOST.encode() + b"\r\n\r\n")
        answer = plain.makefile("rb").read()
    assert answer.startswith(b"HTTP/1.1 400 ")
    assert b"application/problem+json" in answer


@pytest.mark.parametrize("line", [b"once upon a time", b"GET /livez HTTP/9.9", b"GET /%zz HTTP/1.1"])
def test_what_is_no_request_is_a_problem_document_too(front: Front, line: bytes) -> None:
    with front_connection(front) as connection:
        connection.connect()
        connection.sock.sendall(line + b"\r\nHost: " + HOST.encode() + b"\r\n\r\n")
        answer = connection.sock.makefile("rb").read()
    head, _, body = answer.partition(b"\r\n\r\n")
    assert b"application/problem+json" in head
    assert json.loads(body)["status"] == int(head.split()[1])


REFUSED = {
    "a body over the limit": ("POST", PATH, b" " * 262_145, {}, 413),
    "a path of 5,000 characters": ("GET", "/" + "x" * 5000, b"", {}, 414),
    "a header of 5,000 characters": ("GET", "/livez", b"", {"X-Long": "y" * 5000}, 431),
    "the metrics, asked for from outside": ("GET", "/metrics", b"", {}, 404),
    "the readiness, asked for from outside": ("GET", "/readyz", b"", {}, 404),
    "a path that the service does not know": ("GET", "/nothing", b"", {}, 404),
    "a body that is no JSON": ("POST", PATH, b"{", {}, 400),
}


@pytest.mark.parametrize(("method", "path", "body", "headers", "status"), REFUSED.values(), ids=REFUSED)
def test_refusals_are_problem_documents_whoever_refuses(
    front: Front, method: str, path: str, body: bytes, headers: dict[str, str], status: int
) -> None:
    with front_connection(front) as connection:
        response = ask(connection, method, path, headers, body)
        assert response.status == status
        problem(response)


@dataclass(frozen=True, slots=True)
class Hammered:
    """The answers to many requests, sent in one go. What the limits let through is 503: there is no service behind."""

    answers: tuple[str, ...]

    def statuses(self) -> list[int]:
        """The status of each."""
        return [int(answer[:3]) for answer in self.answers]


@pytest.fixture
def bare() -> Iterator[Front]:
    """A front before nothing: it answers at once, so that the limits are reached however slow the machine is."""
    with fronted([free_port()]) as running:
        yield running


def hammered(front: Front, times: int, source: str | None = None, key: str = "", path: str = "/livez") -> Hammered:
    """Ask again and again from one address; {} in the key stands for the number of the request."""
    said = f"Authorization: Bearer {key}\r\n" if key else ""
    request = f"GET {path} HTTP/1.1\r\nHost: {HOST}\r\n{said}"
    with front_connection(front, source) as connection:
        connection.connect()
        last = f"{request.format(times)}Connection: close\r\n\r\n"
        connection.sock.sendall(("".join(request.format(at) + "\r\n" for at in range(1, times)) + last).encode())
        answers = connection.sock.makefile("rb").read().decode().split("HTTP/1.1 ")[1:]
    assert len(answers) == times
    return Hammered(tuple(answers))


def test_too_many_requests_with_one_key_are_told_when_to_come_back(bare: Front) -> None:
    found = hammered(bare, 100, key="one")
    assert found.statuses()[:41] == [503] * 41
    refused = [answer for answer in found.answers if answer.startswith("429")]
    assert len(refused) >= 30
    assert all("\r\nRetry-After: 1\r\n" in answer for answer in refused)
    assert all("\r\nContent-Type: application/problem+json\r\n" in answer for answer in refused)
    assert {json.loads(answer.partition("\r\n\r\n")[2])["status"] for answer in refused} == {429}


def test_one_key_over_its_limit_does_not_hinder_another(bare: Front) -> None:
    assert 429 in hammered(bare, 100, key="one").statuses()
    assert 429 not in hammered(bare, 40, key="two").statuses()


def test_requests_without_a_key_are_counted_by_address(bare: Front) -> None:
    assert 429 in hammered(bare, 60, "127.0.0.2").statuses()
    assert 429 not in hammered(bare, 20, "127.0.0.3").statuses()


def test_parts_of_the_page_come_together_and_again(bare: Front) -> None:
    assert 429 not in hammered(bare, 100, "127.0.0.6", path="/page/page.js").statuses()


def test_making_up_keys_gains_nothing(bare: Front) -> None:
    """A new key with each of two thousand requests: all of an address together are limited, too."""
    assert 429 in hammered(bare, 2000, key="made-up-{}").statuses()
    assert 429 not in hammered(bare, 40, "127.0.0.5", key="made-up-{}").statuses()


def test_service_that_is_gone_is_told_as_a_problem_that_passes(bare: Front) -> None:
    with front_connection(bare) as connection:
        response = ask(connection, "GET", "/livez")
        assert response.status == 503
        assert response.headers["Retry-After"] == "1"
        assert problem(response)["type"] == "/problems/unavailable"


def test_keys_are_not_written_into_the_log(bare: Front) -> None:
    hammered(bare, 60, key="do-not-write-this-down")
    assert until(lambda: len(bare.access_log()) == 60, 5.0)
    written = "\n".join(bare.access_log()) + (bare.folder / "err").read_text(encoding="utf-8")
    assert "do-not-write-this-down" not in written


def test_refusals_of_the_front_are_those_of_the_service() -> None:
    """Same type, title and status, so that a client need not care who refused."""
    text = (SHIPPED / "problems.conf").read_text(encoding="utf-8")
    documents = [json.loads(found) for found in re.findall(r"return \d+ '(.*)\\n';", text)]
    assert len(documents) >= 8
    for document in documents:
        kind = BY_SLUG[document["type"].removeprefix("/problems/")]
        assert (document["type"], document["title"], document["status"]) == (kind.type, kind.title, kind.status)


def test_replay_is_answered_line_by_line_as_it_comes(front: Front) -> None:
    """The first answer is there before the last line is sent: nothing on the way waits for the whole log."""
    # The service reads 64 KiB at a time, so the lines are drawn out.
    lines = [json.dumps(post).encode() + b" " * 100_000 + b"\n" for post in logs(1)[0]]
    with front_connection(front) as connection:
        connection.putrequest("POST", "/v1/replays")
        for name, value in {"Content-Type": "application/x-ndjson", "Transfer-Encoding": "chunked"}.items():
            connection.putheader(name, value)
        connection.endheaders()
        connection.send(chunk(lines[0]) + chunk(lines[1]))
        response = connection.getresponse()
        answers = [response.readline()]
        connection.send(b"".join(map(chunk, lines[2:])) + chunk(b""))
        answers += response.read().splitlines()
    assert response.status == 200
    assert len(answers) == len(lines)
    assert json.loads(answers[-1])["decision"] == "stop", answers[-1]


@pytest.mark.parametrize("path", ["/v1/audits", "/v1/calibrations"])
def test_many_cooks_in_one_body_pass_to_the_workers_of_replays(front: Front, path: str) -> None:
    """Such a log is longer than a post may be."""
    posts = [json.dumps(post).encode() for post in logs(1)[0]]
    body = b"\n".join([*posts[:3], b" " * 200_000, b" " * 200_000, b'{"outcome": {"kernels_left": 3}}'])
    with front_connection(front) as connection:
        response = ask(connection, "POST", path, {"Content-Type": "application/x-ndjson"}, body)
        answer = json.loads(response.read())
    assert response.status == 200, answer
    assert "cooks" in json.dumps(answer)
