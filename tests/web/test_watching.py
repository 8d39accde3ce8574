"""What can be seen of the service from outside: headers, log lines, counts, readiness."""

import json
import re

import pytest

from service.web.health import DRAINING
from service.web.observed import is_traceparent
from tests.web.clients import client_with
from tests.web.test_callers import Keys

POST = {"program": "popcorn", "as_of": 95, "readings": {"pops": [88.1, 90.4, 91.0]}}
# The example of W3C Trace Context, section 3.2.3.
TRACEPARENT = "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01"


def lines(capsys):
    """The lines on standard error so far."""
    return [json.loads(line) for line in capsys.readouterr().err.splitlines()]


def counts(client):
    """Every series with its number."""
    text = client.get("/metrics").text
    return dict(re.findall(r"^(\w+(?:\{[^}]*\})?) (\S+)$", text, re.MULTILINE))


def test_every_answer_has_a_request_id(client):
    ids = {client.get(path).headers["X-Request-Id"] for path in ("/livez", "/livez", "/nowhere", "/v1/decisions")}
    assert len(ids) == 4
    assert all(re.fullmatch("[0-9a-f]{16}", one) for one in ids)


@pytest.mark.parametrize("sent", ["a", "A-b_c.9", "x" * 64])
def test_request_id_of_the_client_is_carried(client, sent):
    assert client.get("/livez", headers={"X-Request-Id": sent}).headers["X-Request-Id"] == sent


@pytest.mark.parametrize("sent", ["", " ", "x" * 65, "a b", 'a"b', "a,b", "\xe9"])
def test_request_id_that_is_no_plain_word_is_replaced(client, sent):
    told = client.get("/livez", headers={"X-Request-Id": sent}).headers["X-Request-Id"]
    assert re.fullmatch("[0-9a-f]{16}", told)


def test_traceparent_is_returned(client):
    assert client.get("/livez", headers={"traceparent": TRACEPARENT}).headers["traceparent"] == TRACEPARENT
    assert "traceparent" not in client.get("/livez").headers
    assert "traceparent" not in client.get("/livez", headers={"traceparent": "00-1-2-3"}).headers


@pytest.mark.parametrize(
    ("header", "valid"),
    [
        (TRACEPARENT, True),
        (TRACEPARENT[:-2] + "00", True),
        ("cc" + TRACEPARENT[2:] + "-what-may-follow", True),
        ("cc" + TRACEPARENT[2:], True),
        (TRACEPARENT + "-what-may-not", False),
        ("ff" + TRACEPARENT[2:], False),
        (TRACEPARENT.upper(), False),
        ("00-" + "0" * 32 + "-00f067aa0ba902b7-01", False),
        ("00-4bf92f3577b34da6a3ce929d0e0e4736-" + "0" * 16 + "-01", False),
        (TRACEPARENT[:-1], False),
        (TRACEPARENT + "\n", False),
        (" " + TRACEPARENT, False),
        ("cc" + TRACEPARENT[2:] + "-" + "x" * 500, False),
        ("", False),
    ],
)
def test_traceparent_is_checked(header, valid):
    """W3C Trace Context, section 3.2."""
    assert is_traceparent(header) is valid


def test_parts_of_the_work_are_timed(client):
    timing = client.post("/v1/decisions", json=POST).headers["Server-Timing"]
    parts = re.findall(r"(\w+);dur=(\d+\.\d+)", timing)
    assert [name for name, _ in parts] == ["read", "decide", "write", "total"]
    took = {name: float(ms) for name, ms in parts}
    assert 0 < took["read"] + took["decide"] + took["write"] <= took["total"] + 0.01


def test_a_request_is_one_line_without_its_readings_its_state_or_its_key(tmp_path, capsys):
    keys = Keys(tmp_path / "keys")
    secret = keys.add("decide", name="hub-1")
    client = client_with(keys_file=keys.file)
    headers = {"Authorization": f"Bearer {secret}", "X-Request-Id": "one", "traceparent": TRACEPARENT}
    state = client.post("/v1/decisions", json=POST, headers=headers).json["state"]
    client.post("/v1/decisions", json={"state": state, "as_of": 96}, headers=headers)
    written = capsys.readouterr().err
    first, second = (json.loads(line) for line in written.splitlines())
    assert first.pop("ms") > 0
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}\+00:00", first.pop("time"))
    assert first == {
        "level": "info",
        "request_id": "one",
        "traceparent": TRACEPARENT,
        "caller": "hub-1",
        "method": "POST",
        "route": "/v1/decisions",
        "status": 200,
        "decision": "continue",
        "rule": second["rule"],
    }
    assert not any(hidden in written for hidden in (secret, state, "88.1", "90.4"))


def test_line_tells_the_problem_and_the_route_not_the_path(capsys):
    client = client_with()
    client.get("/v1/programs/toast")
    client.get("/what/ever?key=secret")
    client.post("/v1/decisions", json={"program": "toast"})
    told = [(line["route"], line["status"], line["problem"]) for line in lines(capsys)]
    assert told == [
        ("/v1/programs/<name>", 404, "not-found"),
        ("unmatched", 404, "not-found"),
        ("/v1/decisions", 422, "wrong-input"),
    ]


def test_own_failure_is_a_line_with_its_trace(capsys):
    client = client_with()
    client.application.add_url_rule("/broken", view_func=lambda: {}["a cause"])
    client.get("/broken")
    told = lines(capsys)
    assert [line["level"] for line in told] == ["error", "error"]
    assert "KeyError: 'a cause'" in told[0]["trace"]
    assert told[1]["problem"] == "internal"


@pytest.mark.parametrize(("level", "written"), [("debug", 1), ("info", 1), ("warning", 0), ("error", 0)])
def test_level_of_the_log_can_be_set(capsys, level, written):
    client_with(log_level=level).get("/livez")
    assert len(lines(capsys)) == written


def test_log_can_be_plain_text(capsys):
    client_with(log_format="text").get("/livez", headers={"X-Request-Id": "one"})
    assert re.fullmatch(r"\S+ info one GET /livez 200 [\d.]+\n", capsys.readouterr().err)


def test_decisions_are_counted_by_outcome_rule_and_sensors():
    client = client_with()
    for _ in range(3):
        rule = client.post("/v1/decisions", json=POST).json["reasons"][0]["rule"]
    client.post("/v1/decisions", json={**POST, "setup": {"max_heating_s": 60}})
    told = counts(client)
    assert told[f'cookstop_decisions_total{{decision="continue",rule="{rule}"}}'] == "3.0"
    assert told['cookstop_decisions_total{decision="stop",rule="heating-cap-reached"}'] == "1.0"
    assert told['cookstop_sensor_status_total{sensor="moisture",status="absent"}'] == "4.0"
    assert told['cookstop_request_duration_seconds_count{method="POST",route="/v1/decisions",status="200"}'] == "4.0"


def test_problems_and_states_that_fail_are_counted_by_kind():
    client = client_with(max_state_characters=2000)
    state = client.post("/v1/decisions", json=POST).json["state"]
    for wrong in ("x", state[:-1], "x" * 2001):
        client.post("/v1/decisions", json={"state": wrong})
    client.post("/v1/decisions", data=b"{", content_type="application/json")
    told = counts(client)
    assert told['cookstop_problems_total{type="wrong-state"}'] == "3.0"
    assert told['cookstop_problems_total{type="not-json"}'] == "1.0"
    assert told['cookstop_state_failures_total{kind="altered"}'] == "2.0"
    assert told['cookstop_state_failures_total{kind="too-long"}'] == "1.0"


def test_lines_of_replays_are_counted():
    client = client_with()
    log = b'{"program": "popcorn"}\n{\n{}\n'
    client.post("/v1/replays", data=log, content_type="application/x-ndjson", buffered=True)
    told = counts(client)
    assert told['cookstop_replayed_lines_total{outcome="decided"}'] == "2.0"
    assert told['cookstop_replayed_lines_total{outcome="wrong"}'] == "1.0"


def test_no_client_can_make_up_a_label():
    client = client_with()
    for at in range(20):
        client.open(f"/path-{at}", method=f"METHOD{at}")
        client.open("/v1/decisions", method=f"METHOD{at}")
        client.get(f"/v1/programs/name-{at}")
    labels = {series for series in counts(client) if series.startswith("cookstop_request_duration_seconds_count")}
    assert labels == {
        'cookstop_request_duration_seconds_count{method="other",route="unmatched",status="404"}',
        'cookstop_request_duration_seconds_count{method="other",route="unmatched",status="405"}',
        'cookstop_request_duration_seconds_count{method="GET",route="/v1/programs/<name>",status="404"}',
    }


def test_counts_have_the_media_type_of_their_format(client):
    told = client.get("/metrics")
    assert told.content_type == "text/plain; version=0.0.4; charset=utf-8"
    assert all(line.split()[2].startswith("cookstop_") for line in told.text.splitlines() if line.startswith("#"))


def test_service_is_ready_until_its_worker_is_told_to_stop(client):
    assert client.get("/readyz").json == {"status": "ready"}
    stopping = client.get("/readyz", environ_overrides={DRAINING: True})
    assert stopping.status_code == 503
    assert stopping.json["type"] == "/problems/unavailable"
    assert stopping.headers["Retry-After"] == "1"
    assert client.get("/livez", environ_overrides={DRAINING: True}).status_code == 200
    assert client.post("/v1/decisions", json=POST, environ_overrides={DRAINING: True}).status_code == 200
