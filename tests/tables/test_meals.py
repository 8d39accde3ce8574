"""Invented meals, and which of them the steam, the oven and the load speak for."""

from math import log

import numpy as np
import pytest

from service.evidence.sudden_steam import SuddenSteam
from service.forecast.meal_posterior import MealPosterior, PriorNumbers, Steamed, meal_posterior
from service.forecast.meals import MealNumbers, Meals, meals_of
from service.programs.programme import Programme
from service.readings.setup import Setup
from service.units import boiling_point_c
from tests.meals import FED, REHEAT, asked_of, codes, meal, stopped

PRIOR = REHEAT.numbers(PriorNumbers)
AT_SEA = boiling_point_c(0.0)
MEALS = meals_of(REHEAT, AT_SEA, 74.0)


def posterior(onset_s: float = 110.0, *, rated_w: float | None = None, load_g: float | None = None,
              sudden: SuddenSteam | None = None, level: float = 1.0) -> MealPosterior:  # fmt: skip
    seen = Steamed(onset_u_s=onset_s, level=level, sudden=sudden, rated_w=rated_w, load_g=load_g)
    return meal_posterior(MEALS, PRIOR, seen)


def ratio(found: MealPosterior, meals: Meals = MEALS) -> float:
    """The middle ratio of the time to a hot core over the time to steam."""
    return float(np.exp(np.interp(0.5, found.weight.cumsum(), meals.log_ratio)))


def test_the_same_programme_gives_the_same_meals_and_they_are_worked_out_once() -> None:
    assert meals_of(REHEAT, AT_SEA, 74.0) is MEALS
    assert (np.diff(MEALS.log_ratio) >= 0.0).all()
    assert all(np.isfinite(getattr(MEALS, name)).all() for name in ("log_ratio", "log_heat_k", "log_conduction"))


def test_meals_start_within_the_range_of_the_programme_and_their_edge_steams_before_the_whole_has_boiled() -> None:
    numbers = REHEAT.numbers(MealNumbers)
    assert numbers.start_low_c <= MEALS.start_c.min() < MEALS.start_c.max() <= numbers.start_high_c
    share = np.exp(MEALS.log_heat_k) / MEALS.rise_k
    assert 0.4 < share.min() < share.max() < 1.0


def test_well_mixed_food_is_hot_before_it_steams_and_food_with_a_slow_core_long_after() -> None:
    flow = MEALS.log_conduction
    quick, slow = flow > np.quantile(flow, 0.9), flow < np.quantile(flow, 0.1)
    assert np.exp(MEALS.log_ratio[quick]).mean() < 0.95
    assert np.exp(MEALS.log_ratio[slow]).mean() > 1.5


def test_weights_add_up_to_one_and_a_longer_wait_for_steam_means_more_food() -> None:
    small, large = posterior(60.0), posterior(200.0)
    assert small.weight.sum() == pytest.approx(1.0)
    assert large.log_load - small.log_load > log(1.3)


def test_a_load_that_is_told_is_believed_and_the_range_narrows() -> None:
    unsaid, said = posterior(rated_w=900.0), posterior(rated_w=900.0, load_g=400.0)
    assert said.log_load == pytest.approx(log(400.0), abs=0.1)
    assert said.log_load_sd < unsaid.log_load_sd


def test_a_weak_oven_gives_heat_more_time_to_reach_the_core() -> None:
    weak, strong = posterior(200.0, rated_w=500.0, load_g=400.0), posterior(200.0, rated_w=1100.0, load_g=800.0)
    assert ratio(weak) < ratio(strong)
    assert ratio(posterior(level=0.5)) < ratio(posterior())


def test_steam_that_comes_at_once_speaks_for_a_liquid_and_so_for_an_earlier_end() -> None:
    at_once = posterior(sudden=SuddenSteam(PRIOR.sudden_evenness, PRIOR.sudden_steepness))
    evenly = posterior(sudden=SuddenSteam(PRIOR.even_evenness, PRIOR.even_steepness))
    assert at_once.liquid_share > 0.85 > posterior().liquid_share > evenly.liquid_share
    assert ratio(at_once) < 1.0 < ratio(evenly)


@pytest.mark.parametrize("evenness", [-5.0, -2.0, -1.0, -0.4, 0.0, 3.0])
@pytest.mark.parametrize("steepness", [-2.0, 2.0, 4.0, 5.0, 9.0])
def test_no_steam_rules_either_kind_out_and_steam_like_none_says_nothing(evenness: float, steepness: float) -> None:
    found = posterior(sudden=SuddenSteam(evenness, steepness)).liquid_share
    assert 0.01 < found < 0.97
    if max(abs(evenness), abs(steepness)) > 4.5 and evenness in {-5.0, 3.0}:
        assert found == pytest.approx(posterior().liquid_share, abs=0.01)


def test_a_hotter_core_takes_longer_and_a_high_site_boils_sooner() -> None:
    cook = meal(150.0, steams_s=110.0)
    plain, hotter = (asked_of(cook, 150.0, Setup(safe_core_c=one)).remaining for one in (None, 88.0))
    high = asked_of(cook, 150.0, Setup(site_altitude_m=2500.0)).remaining
    assert plain is not None
    assert hotter is not None
    assert high is not None
    assert hotter.estimate_s > plain.estimate_s + 5.0
    # Up there the steam comes from colder food, so that its core is further from hot.
    assert high.estimate_s > plain.estimate_s


def test_where_water_boils_below_what_the_core_must_reach_nothing_is_ever_called_safe() -> None:
    told = Setup(site_altitude_m=4000.0, safe_core_c=90.0, max_heating_s=200.0)
    last = stopped(meal(220.0, steams_s=110.0), told)
    assert codes(last) == ["heating-cap-reached", "not-measured-safe"]


@pytest.mark.parametrize("name", FED)
def test_every_programme_ends_a_cook_that_steams(name: str) -> None:
    last = stopped(meal(500.0, steams_s=110.0), programme=FED[name])
    assert codes(last)[0] == ("first-moisture" if name == "melting" else "core-safe")


def test_a_hotter_core_by_programme_ends_later() -> None:
    ends = {name: stopped(meal(500.0, steams_s=110.0), programme=FED[name]).as_of_s for name in FED}
    assert ends["melting"] < ends["reheat"]
    assert ends["reheat"] < ends["potato"]


def test_pauses_do_not_shorten_the_heating() -> None:
    straight = stopped(meal(500.0, steams_s=110.0))
    paused = stopped(meal(500.0, steams_s=130.0, power=[(0.0, 1.0), (50.0, 0.0), (70.0, 1.0)]))
    assert paused.as_of_s == pytest.approx(straight.as_of_s + 20.0, abs=12.0)


def test_shares_that_are_more_than_all_are_refused() -> None:
    wrong = PriorNumbers(**{**{name: getattr(PRIOR, name) for name in PRIOR.__slots__}, "slow_prior": 0.99})
    seen = Steamed(onset_u_s=100.0, level=1.0, sudden=None, rated_w=None, load_g=None)
    with pytest.raises(ValueError, match="more than one together"):
        meal_posterior(MEALS, wrong, seen)


def test_the_programmes_share_the_numbers_of_reheat_but_for_a_few() -> None:
    def differ(one: Programme) -> set[str]:
        return {key for key, value in one.values.items() if value.value != REHEAT.values[key].value}

    assert {name: len(differ(one)) for name, one in FED.items() if name != "reheat"} == {
        name: pytest.approx(8, abs=3) for name in FED if name != "reheat"
    }
