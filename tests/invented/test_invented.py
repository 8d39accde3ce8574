"""Invented cooks: logs that are taken as they stand, that show their trouble, and that say what they are."""

import json
from collections.abc import Mapping
from functools import cache
from typing import Any

import numpy as np
import pytest

from service.audit.audit import audit_cook
from service.audit.control import what_it_follows
from service.fleet.audited import cooks_in
from service.fleet.pieces import Piece
from service.invented.controls import Control
from service.invented.cook import Asked, Line, invented_cooks
from service.invented.kinds import KINDS
from service.web.cook_logs import CookRead


@cache
def invented(kind: str, cooks: int = 3, control: Control = "person", seed: int = 5) -> list[list[Line]]:
    return list(invented_cooks(Asked(kind=kind, seed=seed, cooks=cooks, control=control)))


def taken(cooks: list[list[Line]]) -> list[CookRead]:
    """The cooks as the service takes them; no line may be wrong."""
    lines = tuple(json.dumps(line).encode() for lines in cooks for line in lines)
    found = list(cooks_in(Piece(log="invented", first_line=1, lines=lines, read_bytes=0)))
    assert all(isinstance(one, CookRead) for one in found)
    return [one for one in found if isinstance(one, CookRead)]


def outcome(lines: list[Line]) -> Mapping[str, Any]:
    found: Mapping[str, Any] = lines[-1]["outcome"]
    return found


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_taken_as_it_stands_and_says_that_it_is_invented(kind: str) -> None:
    cooks = invented(kind)
    assert len(taken(cooks)) == 3
    for lines in cooks:
        assert outcome(lines)["note"].startswith("Invented, nothing of it was recorded")
        assert outcome(lines)["oven"].startswith("invented ")
        assert outcome(lines)["kernels_left"] < 0.25 * outcome(lines)["kernels_total"]


def test_the_same_seed_gives_the_same_cooks_and_another_gives_others() -> None:
    asked = Asked(kind="regular", seed=5, cooks=3, control="person")
    assert list(invented_cooks(asked)) == invented("regular")
    assert invented("regular", seed=6) != invented("regular")


def test_more_cooks_begin_with_the_same_ones() -> None:
    assert invented("noise", cooks=5)[:3] == invented("noise")


def readings(kind: str, name: str) -> list[Any]:
    return [one for line in invented(kind)[1][:-1] for one in line["readings"].get(name, [])]


def test_each_trouble_shows() -> None:
    rh_pct = np.array([one["rh_pct"] for one in readings("dry-sensor", "humidity")])
    steam_pct = np.array([one["rh_pct"] for one in readings("regular", "humidity")])
    assert not readings("deaf", "pops")
    assert np.diff(rh_pct).max() < 1.5 < np.diff(steam_pct).max()
    assert len(readings("pulses", "power")) > 6
    assert [one["level"] for one in readings("door-opened", "power")] == [0.0, 1.0, 0.0, 1.0, 0.0]
    assert sum(t < 40.0 for t in readings("noise", "pops")) > sum(t < 40.0 for t in readings("regular", "pops"))
    assert len(readings("hard-of-hearing", "pops")) < 0.9 * len(readings("regular", "pops"))
    assert max(readings("goes-deaf", "pops")) < outcome(invented("goes-deaf")[1])["good_stop_s"] - 5.0
    late = readings("bad-network", "pops")
    assert late != sorted(late)
    assert len(late) > len(set(late))


def test_weak_ovens_and_large_bags_take_longer() -> None:
    good_s = {kind: np.mean([outcome(lines)["good_stop_s"] for lines in invented(kind)]) for kind in KINDS}
    assert good_s["weak-oven"] > 1.3 * good_s["regular"]
    assert good_s["jumbo"] > 1.2 * good_s["snack"]


@pytest.mark.parametrize("control", ["steam"])
def test_an_audit_finds_out_what_ended_them(control: Control) -> None:
    """The audit knows nothing of how these are invented."""
    cooks = taken(invented("regular", cooks=8, control=control, seed=1))
    found = what_it_follows(
        [cues for one in cooks if (cues := audit_cook(one.finished, one.programme).cues) is not None]
    )
    assert found.follows == control
