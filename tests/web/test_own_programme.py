"""A programme that a caller brings along: held to the standard of the shipped ones, and bound to the cook that it began."""

import copy
import json
from typing import Any

import pytest

from service.programs.programme import shipped

NDJSON = "application/x-ndjson"


@pytest.fixture
def told(client):
    """A shipped programme as it is told."""
    return lambda name: client.get(f"/v1/programs/{name}").json


def asked(client, **post: Any):
    return client.post("/v1/decisions", json={"as_of": 10.0, **post})


def errors(response) -> list[dict[str, str]]:
    assert response.status_code == 422, response.json
    return response.json["errors"]


@pytest.mark.parametrize("name", list(shipped()))
def test_a_shipped_programme_can_be_sent_back_as_it_is_told_and_decides_the_same(client, told, name):
    humidity = [{"t": t, "rh_pct": 40.0 + 0.1 * (t % 3), "air_c": 25.0} for t in range(30)]
    post = {"readings": {"humidity": humidity, "pops": [3.0]}, "as_of": 31.0}
    own, named = asked(client, program=told(name), **post).json, asked(client, program=name, **post).json
    assert own.pop("state") != named.pop("state")
    assert own == named


def test_the_programme_is_sent_with_every_post_and_the_state_stays_small(client, told):
    program = told("reheat")
    first = asked(client, program=program)
    assert len(first.json["state"]) < 200
    assert asked(client, program=program, state=first.json["state"]).status_code == 200


def other_number(program: dict[str, Any]) -> dict[str, Any]:
    changed = copy.deepcopy(program)
    changed["values"]["warn_lead_s"]["value"] += 1.0
    return changed


@pytest.mark.parametrize("then", [lambda _: {}, lambda own: {"program": other_number(own)}, lambda _: {"program": "reheat"}],
                         ids=["nothing", "another number", "a name"])  # fmt: skip
def test_a_cook_goes_on_with_the_very_programme_that_it_was_begun_with(client, told, then):
    program = told("reheat")
    state = asked(client, program=program).json["state"]
    (error,) = errors(asked(client, state=state, **then(program)))
    assert error["pointer"] == "/program"
    assert "the very same with every post" in error["detail"]


def test_a_cook_begun_with_a_name_does_not_go_on_with_a_programme_brought_along(client, told):
    state = asked(client, program="reheat").json["state"]
    assert errors(asked(client, state=state, program=told("reheat")))[0]["pointer"] == "/program"


def test_what_a_state_is_bound_to_is_no_name(client, told):
    assert errors(asked(client, program="own:0123456789abcdef0123456789abcdef"))[0]["pointer"] == "/program"


def test_a_replay_needs_the_programme_on_its_first_line_alone(client, told):
    lines = [{"program": told("reheat"), "as_of": 10.0}, {"as_of": 11.0}, {"as_of": 12.0}]
    log = "\n".join(map(json.dumps, lines))
    answers = client.post("/v1/replays", data=log, content_type=NDJSON).get_data(as_text=True).splitlines()
    assert [json.loads(answer)["as_of"] for answer in answers] == [10.0, 11.0, 12.0]


def value(key: str, **parts: Any):
    return lambda program: program["values"][key].update(parts)


# What is done to a good programme, and where the problem document points.
WRONG = {
    "a core that is not safe": (value("safe_core_c", value=73.9), "/values/safe_core_c/value"),
    "a number without a note": (lambda program: program["values"]["hot_share"].pop("note"), "/values/hot_share/note"),
    "a number without a source": (value("hot_share", source=" "), "/values/hot_share/source"),
    "a number in another unit": (value("typical_load_g", unit="kg"), "/values/typical_load_g/unit"),
    "a number out of all reach": (value("max_heating_s", value=1e9), "/values/max_heating_s/value"),
    "a number that is a text": (value("hot_share", value="0.5"), "/values/hot_share/value"),
    "a number that is missing": (lambda program: program["values"].pop("hot_share"), "/values/hot_share"),
    "a number that nothing asks for": (
        lambda program: program["values"].update({"a/b~c": program["values"]["hot_share"]}),
        "/values/a~1b~0c",
    ),
    "numbers that contradict each other": (value("slow_prior", value=0.99), "/values"),
    "shares of food beyond the whole": (value("solid_water_share", value=1.0), "/values"),
    "no name": (lambda program: program.pop("name"), "/name"),
    "a sensor that is none": (lambda program: program.update(led_by=["nose"]), "/led_by"),
    "a part that no programme has": (lambda program: program.update(colour="red"), "/colour"),
    "a caution that is no text": (lambda program: program.update(cautions=[3]), "/cautions"),
    "numbers that are a list": (lambda program: program.update(values=[]), "/values"),
}


@pytest.mark.parametrize(("change", "pointer"), WRONG.values(), ids=WRONG)
def test_a_wrong_programme_is_refused_and_the_place_is_pointed_at(client, told, change, pointer):
    program = told("reheat")
    change(program)
    (error,) = errors(asked(client, program=program))
    assert error["pointer"] == f"/program{pointer}"


def test_the_number_of_levels_stays_as_it_is(client, told):
    """It counts the rows of tables that are worked out anew for each programme, and says nothing about a bag."""
    program = told("popcorn")
    program["values"]["spread_levels"]["value"] += 1
    (error,) = errors(asked(client, program=program))
    assert error["pointer"] == "/program/values/spread_levels/value"


def test_a_higher_core_may_be_asked_for_and_waits_longer(client, told):
    program = told("reheat")
    program["values"]["safe_core_c"]["value"] = 88.0
    humidity = [{"t": t, "rh_pct": 40.0 + min(max(t - 100.0, 0.0), 40.0), "air_c": 40.0} for t in range(140)]
    post = {"readings": {"humidity": humidity}, "as_of": 140.0}
    asked_74, asked_88 = (
        asked(client, program=one, **post).json["remaining"]["estimate_s"] for one in ("reheat", program)
    )
    said_88 = asked(client, program="reheat", setup={"safe_core_c": 88.0}, **post).json["remaining"]["estimate_s"]
    assert asked_88 == said_88 > asked_74 + 5.0
    assert errors(asked(client, program="reheat", setup={"safe_core_c": 73.0}))[0]["pointer"] == "/setup/safe_core_c"


def test_a_programme_that_is_too_long_is_not_even_read(client, told):
    program = told("reheat")
    program["summary"] = "s" * 65_536
    assert "expected a programme of 65536 characters at most" in errors(asked(client, program=program))[0]["detail"]


@pytest.mark.parametrize("program", [3, [], None, True, "", "x" * 101, {"name": "n" * 70_000}])
def test_what_is_no_programme_is_refused(client, program):
    assert errors(asked(client, program=program))[0]["pointer"].startswith("/program")
