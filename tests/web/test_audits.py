"""A set of finished cooks audited over HTTP."""

import json

import pytest
from scipy import stats

from tests.audit.published import LEFT_A, LEFT_B, POPPED_BY_TIME
from tests.web.clients import client_with

NDJSON = "application/x-ndjson"
POPS = {"pops": [80.0, 82.5, 83.0], "power": [{"t": 0, "level": 1.0}]}


def cook(**outcome):
    """A cook of two lines: a few pops, and what was found."""
    return [{"program": "popcorn", "setup": {"load_g": 85}, "as_of": 90, "readings": POPS}, {"outcome": outcome}]


def text_of(*cooks):
    return "".join(json.dumps(line) + "\n" for one in cooks for line in one).encode()


def audited(client, *cooks, query=""):
    response = client.post(f"/v1/audits{query}", data=text_of(*cooks), content_type=NDJSON)
    assert response.status_code == 200, response.data
    assert response.headers["Cache-Control"] == "no-store"
    return response.json


BRANDS = [
    cook(bag=bag, trial=trial, kernels_left=int(left), kernels_total=1000)
    for bag, counts in (("A", LEFT_A), ("B", LEFT_B))
    for trial, left in enumerate(counts, start=1)
]


def test_two_brands_are_compared_in_pairs_and_the_warming_oven_is_named(client):
    """R package Stat2Data, Popcorn: p = 0.02312 for the pairs, and a decline over the trials."""
    found = audited(client, *BRANDS)
    (compared,) = [one for one in found["comparisons"] if one["measure"] == "unpopped_share"]
    assert (compared["first"], compared["second"], compared["because"]) == ("A", "B", "the cooks are paired")
    assert compared["decides"]["p"] == pytest.approx(0.02312, abs=5e-5)
    assert compared["welch"]["difference"]["p"] == pytest.approx(0.05590, abs=5e-5)
    assert compared["paired"]["cohens_d"] == pytest.approx(15.5 / 11.7431, abs=5e-4)
    assert compared["trend"]["slope"]["value"] < 0
    assert "trial to trial" in compared["says"]


def test_brand_power_and_time_are_analysed_together(client):
    """Dean and Voss (1999), Table 7.2: F and p computed with statsmodels. Power is told as the oven, time as the policy."""
    cooks = [
        cook(bag=str(brand), oven=str(power), policy=str(place), kernels_left=round(1000 - 10 * value), kernels_total=1000)
        for (brand, power), times in POPPED_BY_TIME.items()
        for place, pair in enumerate(times)
        for value in pair
    ]  # fmt: skip
    (found,) = [one for one in audited(client, *cooks)["factors"] if one["measure"] == "unpopped_share"]
    terms = {frozenset(term["factors"]): term for term in found["terms"]}
    assert terms[frozenset({"bag", "policy"})]["f"] == pytest.approx(4.0893, abs=5e-4)
    assert terms[frozenset({"bag", "policy"})]["p"] == pytest.approx(0.0157, abs=5e-5)
    assert terms[frozenset({"oven"})]["f"] == pytest.approx(5.1918, abs=5e-4)
    assert (found["residual_df"], len(terms)) == (18, 7)


def test_shares_come_with_the_interval_that_was_asked_for(client):
    """A textbook's 86 of 773 kernels: Clopper and Pearson's 90 % interval by scipy, told to three digits."""
    found = audited(client, cook(kernels_left=86, kernels_total=773), query="?interval_pct=90")
    share = found["groups"][0]["unpopped"]
    assert found["interval_pct"] == 90
    expected = stats.binomtest(86, 773).proportion_ci(0.9)
    assert (share["exact"]["low"], share["exact"]["high"]) == pytest.approx((expected.low, expected.high), rel=5e-3)
    assert share["allowing_for_bags"] is None


def test_too_few_stops_of_the_oven_say_nothing_of_its_control(client):
    found = audited(client, *[cook(stopped_s=90, stopped_by="oven") for _ in range(3)])
    (control,) = found["controls"]
    assert (control["control"]["follows"], control["control"]["confidence"]) == (None, "cannot say")
    assert "there are 3" in control["control"]["says"]
    assert [rule["rule"] for rule in found["other_rules"]] == ["ours", "first-silence", "steam-times-constant"]


def test_no_cooks_are_an_empty_audit(client):
    found = audited(client)
    assert (found["cooks"], found["comparisons"], found["controls"]) == (0, [], [])


@pytest.mark.parametrize(
    ("line", "slug"),
    [(b"{", "not-json"), (b'{"outcome": {"kernels_left": -1}}', "wrong-input"), (b'{"state": "x"}', "wrong-input")],
)
def test_a_wrong_line_refuses_the_whole_and_is_told_with_its_number(client, line, slug):
    body = text_of(cook(kernels_left=1)) + line + b"\n" + text_of(cook(kernels_left=2))
    response = client.post("/v1/audits", data=body, content_type=NDJSON)
    assert response.json["type"] == f"/problems/{slug}"
    assert response.json["detail"].startswith("line 3: ")


def test_too_many_cooks_are_refused():
    client = client_with(max_cooks=2)
    assert audited(client, cook(), cook())["cooks"] == 2
    response = client.post("/v1/audits", data=text_of(cook(), cook(), cook()), content_type=NDJSON)
    assert (response.status_code, response.json["type"]) == (413, "/problems/too-many-cooks")


@pytest.mark.parametrize(
    "query", ["interval_pct=20", "interval_pct=x", "interval_pct=nan", "level=90", "interval_pct=90&interval_pct=95"]
)
def test_a_wrong_query_is_refused(client, query):
    response = client.post(f"/v1/audits?{query}", data=b"", content_type=NDJSON)
    assert response.json["type"] == "/problems/wrong-input"


def test_the_same_cooks_give_the_same_bytes(client):
    bodies = [client.post("/v1/audits", data=text_of(*BRANDS), content_type=NDJSON).data for _ in range(2)]
    assert bodies[0] == bodies[1]
