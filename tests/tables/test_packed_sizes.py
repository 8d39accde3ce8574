"""How long the state of a cook gets: it travels with every post, so its length is a promise.

The cooks are invented: pops about a peak at six tenths of the cook, steam that shows halfway, one humidity reading a
second with the noise of a cheap sensor.
"""

from __future__ import annotations

import numpy as np
import pytest

from service.readings.cook import Cook
from service.readings.packing import Packed, pack, unpack
from service.readings.settled import Settled

SIGNATURE_CHARACTERS = 43


def invented_cook(pops: int, length_s: int, seed: int) -> Cook:
    random = np.random.default_rng(seed)
    pops_s = np.clip(random.lognormal(np.log(0.6 * length_s), 0.2, pops), 0.0, length_s)
    t_s = np.arange(length_s, dtype=np.float64)
    steam_pct = 50.0 / (1.0 + np.exp((0.5 * length_s - t_s) / 10.0))
    rh_pct = np.clip(45.0 - 0.02 * t_s + steam_pct + random.normal(0.0, 0.4, length_s), 0.0, 100.0)
    air_c = 23.0 + 0.05 * t_s + random.normal(0.0, 0.15, length_s)
    return Cook.of(pops_s=pops_s, humidity=np.column_stack((t_s, rh_pct, air_c)), power=[(0.0, 1.0)])


@pytest.mark.parametrize(
    ("pops", "length_s", "most_characters"),
    [
        pytest.param(0, 60, 350, id="a cook that has just begun"),
        pytest.param(380, 200, 1_300, id="a regular bag to the end"),
        pytest.param(600, 300, 1_800, id="a jumbo bag in a weak oven"),
        pytest.param(2_000, 600, 5_500, id="far more than any bag"),
    ],
)
def test_a_packed_cook_stays_within(pops: int, length_s: int, most_characters: int) -> None:
    content = Packed(
        programme="popcorn",
        setup_json=b'{"load_g":99.0,"rated_w":1000.0}',
        settled=Settled(as_of_ms=length_s * 1000, stop_ms=None, stop_rule=None, nudge_ms=None),
        cook=invented_cook(pops, length_s, seed=7),
    )
    packed = pack(content)
    assert unpack(packed, limit=100_000).cook.same_as(content.cook)
    assert 4 * len(packed) / 3 + SIGNATURE_CHARACTERS <= most_characters


def test_a_microphone_that_works_in_hundredths_costs_less() -> None:
    fine = invented_cook(400, 200, seed=7)
    coarse = Cook.of(pops_s=np.rint(fine.pops_ms / 10) / 100)
    settled = Settled(as_of_ms=200_000, stop_ms=None, stop_rule=None, nudge_ms=None)
    fine_bytes, coarse_bytes = (
        len(pack(Packed(programme="popcorn", setup_json=b"{}", settled=settled, cook=cook)))
        for cook in (Cook.of(pops_s=fine.pops_ms / 1000), coarse)
    )
    assert coarse_bytes < 0.75 * fine_bytes
