"""The yardstick beside the plain rules: what it makes of pops that follow its own model, and of what it cannot know."""

from typing import Any

import numpy as np
import pytest

from tests.simulation.kernels import FloatArray
from tests.simulation.sketch import HEARD_SHARE, sketch_stop_s
from tests.simulation.truth import GRID_S, stop_window

LOCATION_S, SPREAD, KERNELS = 100.0, 0.15, 450


def heard_s(seed: int, kernels: int = KERNELS, location_s: float = LOCATION_S) -> FloatArray:
    """Log-normal pops, of which the share is heard that the sketch reckons with."""
    rng = np.random.default_rng(seed)
    heard: FloatArray = np.sort(location_s * np.exp(SPREAD * rng.normal(size=round(HEARD_SHARE * kernels))))
    return heard


def typical_s(location_s: float = LOCATION_S) -> float:
    """The typical first two seconds of silence of the same bag, by the scorer's own formula."""
    u_s = np.arange(0.0, 400.0, GRID_S) + 1e-6
    density = np.exp(-0.5 * (np.log(u_s / location_s) / SPREAD) ** 2) / (u_s * SPREAD * np.sqrt(2.0 * np.pi))
    window = stop_window(KERNELS * density, u_s)
    assert window is not None
    return window.typical_s


def posted(pops_s: FloatArray, until_s: float, power: list[dict[str, float]] | None = None) -> list[dict[str, Any]]:
    """A post a second, and nothing but pops in it, but for the power in the first."""
    posts: list[dict[str, Any]] = [
        {"as_of": t, "readings": {"pops": pops_s[(pops_s > t - 1.0) & (pops_s <= t)].tolist()}}
        for t in np.arange(1.0, until_s).tolist()
    ]
    posts[0]["readings"]["power"] = power or []
    return posts


@pytest.mark.parametrize("seed", range(6))
def test_pops_of_its_own_model_are_stopped_near_the_typical_moment(seed: int) -> None:
    assert sketch_stop_s(posted(heard_s(seed), 300.0)) == pytest.approx(typical_s(), abs=6.0)


def test_over_many_cooks_it_is_neither_early_nor_late() -> None:
    stops = [sketch_stop_s(posted(heard_s(seed), 300.0)) for seed in range(40)]
    assert np.mean([stop for stop in stops if stop is not None]) == pytest.approx(typical_s(), abs=1.5)


def test_a_microphone_that_dies_leaves_the_forecast_that_it_had() -> None:
    pops_s = heard_s(1)
    stop_s = sketch_stop_s(posted(pops_s[pops_s < 110.0], 300.0))
    assert stop_s == pytest.approx(typical_s(), abs=12.0)


def test_a_pause_is_no_silence() -> None:
    """Ten seconds off at the peak shift everything after them."""
    pops_s = heard_s(2)
    paused_s = np.where(pops_s > 100.0, pops_s + 10.0, pops_s)
    power = [{"t": 100.0, "level": 0.0}, {"t": 110.0, "level": 1.0}]
    without, with_pause = sketch_stop_s(posted(pops_s, 300.0)), sketch_stop_s(posted(paused_s, 300.0, power))
    assert without is not None
    assert with_pause == pytest.approx(without + 10.0, abs=1.0)


def test_hardly_any_sound_is_no_answer() -> None:
    assert sketch_stop_s(posted(heard_s(3)[:30], 300.0)) is None
