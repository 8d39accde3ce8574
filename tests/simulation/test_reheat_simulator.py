"""The simulated reheats behave as food in an oven does, and the scorer scores them as it says it does."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from service.programs.programme import shipped
from tests.simulation import SimulatedCook, simulate, simulate_reheat
from tests.simulation.__main__ import main
from tests.simulation.composition import Composition, HeatCurve
from tests.simulation.heating_food import FoodOnDish, Kitchen
from tests.simulation.meals import laid_out
from tests.simulation.oven import STEP_S
from tests.simulation.plain_rules import steam_seen_s, vapour_seen_s
from tests.simulation.recorded import TRUTH
from tests.simulation.reheat_kinds import ALL_KINDS, KINDS, ReheatRecipe, drawn_reheat
from tests.simulation.reheat_truth import BOILS_G_S, SAFE_C, Milestones
from tests.simulation.run import Task, run, run_recorded
from tests.simulation.score import outcome, play, safety_figures, score
from tests.simulation.water import boiling_c, evaporating_j_g

SEEDS = range(3)
KITCHEN = Kitchen(air_c=22.0, vapour_g_m3=9.0)


@pytest.fixture(scope="module")
def cooks() -> list[SimulatedCook]:
    """A few cooks of every usual kind over a clean link."""
    return [simulate_reheat(kind, seed, network=False) for kind in KINDS for seed in SEEDS]


def readings_of(cook: SimulatedCook, field: str) -> list[Any]:
    return [reading for post in cook.log for reading in post["readings"].get(field, ())]


def recipe_of(kind: str, seed: int = 1) -> ReheatRecipe:
    return drawn_reheat(kind, np.random.default_rng(seed))


def with_meal(recipe: ReheatRecipe, **changes: float) -> ReheatRecipe:
    return replace(recipe, meal=replace(recipe.meal, **changes))


def with_oven(recipe: ReheatRecipe, **changes: float) -> ReheatRecipe:
    return replace(recipe, magnetron=replace(recipe.magnetron, **changes))


def food_of(recipe: ReheatRecipe) -> FoodOnDish:
    layers = laid_out(recipe.meal, np.random.default_rng(0))
    return FoodOnDish(recipe.meal, layers, recipe.magnetron, recipe.cover, KITCHEN)


def heat(food: FoodOnDish, lasting_s: float, from_s: float = 0.0) -> None:
    for step in range(round(lasting_s / STEP_S)):
        food.step(1.0, from_s + (step + 1) * STEP_S, door_open=False)


def milestones_of(recipe: ReheatRecipe) -> Milestones:
    """Heat at full power until the food is safe and boils."""
    food, seen = food_of(recipe), Milestones(spare_g=1e9)
    at_s = 0.0
    while seen.safe_s is None or seen.steam_began_s is None:
        at_s += STEP_S
        food.step(1.0, at_s, door_open=False)
        seen.note(at_s, food.coldest_c, food.boiled_g_s, food.lost_g)
        assert at_s < 3000.0
    return seen


def safe_s(recipe: ReheatRecipe) -> float:
    at_s = milestones_of(recipe).safe_s
    assert at_s is not None
    return at_s


def steam_s(recipe: ReheatRecipe) -> float:
    at_s = milestones_of(recipe).steam_began_s
    assert at_s is not None
    return at_s


def spread_k(food: FoodOnDish) -> float:
    return max(max(piece.temperature_c) for piece in food.pieces) - food.coldest_c


def held_j(food: FoodOnDish) -> float:
    return sum(sum(piece.held_j) for piece in food.pieces)


@pytest.mark.parametrize("kind", ["plate", "soup", "opened-midway", "humidity-dead"])
@pytest.mark.parametrize("network", [False, True])
def test_the_same_seed_gives_the_same_cook(kind: str, network: bool) -> None:
    assert simulate_reheat(kind, 7, network) == simulate_reheat(kind, 7, network)
    assert simulate_reheat(kind, 7, network).log != simulate_reheat(kind, 8, network).log


def test_every_kind_can_be_simulated() -> None:
    for kind in ALL_KINDS:
        assert simulate_reheat(kind, 11, network=True).log[0]["program"] == "reheat"


def test_an_unknown_kind_is_refused() -> None:
    with pytest.raises(KeyError, match="lentils"):
        simulate_reheat("lentils", 1, network=False)


@pytest.mark.parametrize("kind", ALL_KINDS)
def test_a_bad_link_brings_the_same_readings_in_the_end(kind: str) -> None:
    clean, crossed = simulate_reheat(kind, 3, network=False), simulate_reheat(kind, 3, network=True)
    assert clean.truth == crossed.truth
    for field in ("humidity", "power"):
        once = [repr(reading) for reading in readings_of(clean, field)]
        assert len(once) == len(set(once))
        assert set(once) == {repr(reading) for reading in readings_of(crossed, field)}
    assert readings_of(crossed, "humidity") != readings_of(clean, "humidity")
    assert not readings_of(clean, "pops")


def test_oven_and_load_are_said_over_the_network_or_when_asked_for() -> None:
    clean, crossed = simulate_reheat("plate", 5, network=False), simulate_reheat("plate", 5, network=True)
    told = simulate_reheat("plate", 5, network=False, says_setup=True)
    assert not clean.says_setup
    assert crossed.log[0]["setup"] == told.log[0]["setup"]
    assert told.log[1:] == clean.log[1:]
    assert told.log[0]["setup"]["load_g"] == pytest.approx(told.truth["load_g"], abs=0.6)
    assert told.log[0]["setup"]["rated_w"] == pytest.approx(told.truth["rated_w"], abs=26.0)


def test_every_reading_was_taken_after_the_start_and_before_its_post(cooks: list[SimulatedCook]) -> None:
    for cook in [*cooks, *(simulate_reheat(kind, 5, network=True) for kind in KINDS)]:
        for post in cook.log:
            taken = [one["t"] for field in ("humidity", "power") for one in post["readings"].get(field, ())]
            assert all(0.0 <= t <= post["as_of"] for t in taken)


def test_the_stop_window_is_in_order_and_the_log_runs_on_past_it(cooks: list[SimulatedCook]) -> None:
    for cook in cooks:
        safe, dry = cook.truth["stop_window_s"]
        assert safe == cook.truth["core_at_74c_s"]
        assert 0.2 <= dry / safe - 1.0 <= 0.65
        assert 0.0 < cook.truth["steam_began_s"] < dry
        assert dry + 38.0 < cook.log[-1]["as_of"] <= dry + 40.0


@pytest.mark.parametrize("kind", ["plate", "soup", "frozen-start", "dense", "two-pieces"])
def test_the_food_keeps_or_gives_up_all_heat_that_it_takes(kind: str) -> None:
    food = food_of(recipe_of(kind))
    before_j = held_j(food)
    heat(food, 400.0)
    assert food.left_j > 0.1 * food.absorbed_j
    assert held_j(food) - before_j == pytest.approx(food.absorbed_j - food.left_j, rel=1e-9)


def test_layers_hold_the_heat_that_goes_with_their_temperature() -> None:
    recipe = recipe_of("frozen-start")
    food, curve = food_of(recipe), HeatCurve(recipe.meal.composition)
    heat(food, 150.0)
    by_temperature = sum(
        mass_g * curve.held(at_c)
        for piece in food.pieces
        for mass_g, at_c in zip(piece.layers.mass_g, piece.temperature_c, strict=True)
    )
    assert by_temperature == pytest.approx(held_j(food), rel=1e-3)


def test_water_that_the_food_lost_has_got_past_the_cover_or_hangs_under_it() -> None:
    for kind in ("plate", "no-cover", "covered-tight", "soup"):
        recipe = recipe_of(kind)
        food, out_g = food_of(recipe), 0.0
        for step in range(800):
            food.step(1.0, step * STEP_S, door_open=False)
            out_g += STEP_S * food.out_g_s
        assert food.lost_g > 5.0
        assert out_g == pytest.approx(food.lost_g, abs=0.7 * recipe.cover.space_l)


def test_food_at_full_boil_turns_what_it_absorbs_into_steam() -> None:
    recipe = with_oven(with_meal(recipe_of("soup"), dish_w_k=0.0), ripple_share=0.0)
    food = food_of(recipe)
    heat(food, 600.0)
    power_w = recipe.magnetron.absorbed_w(recipe.meal.load_g, 1.0, 600.0) * (1.0 - recipe.magnetron.dish_share)
    assert 0.85 < food.boiled_g_s * evaporating_j_g(100.0) / power_w <= 1.0


def test_no_layer_is_hotter_than_boiling_water() -> None:
    for altitude_m in (0.0, 3000.0):
        food = food_of(with_oven(recipe_of("plate"), altitude_m=altitude_m))
        heat(food, 400.0)
        hottest_c = max(max(piece.temperature_c) for piece in food.pieces)
        assert hottest_c <= boiling_c(altitude_m) + 0.1
        assert food.boiled_g_s > 0.05


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("moment", [safe_s, steam_s])
@pytest.mark.parametrize("kind", ["plate", "soup"])
def test_more_food_a_weaker_oven_and_a_colder_start_take_longer(
    kind: str, seed: int, moment: Callable[[ReheatRecipe], float]
) -> None:
    recipe = with_meal(recipe_of(kind, seed), load_g=300.0, start_c=15.0)
    usual_s = moment(recipe)
    assert moment(with_meal(recipe, load_g=450.0)) > 1.15 * usual_s
    assert moment(with_oven(recipe, rated_w=0.7 * recipe.magnetron.rated_w)) > 1.3 * usual_s
    assert moment(with_meal(recipe, start_c=3.0)) > usual_s
    assert moment(with_oven(recipe, altitude_m=2500.0)) <= usual_s


def test_thawing_costs_more_than_its_degrees() -> None:
    recipe = recipe_of("plate")
    thawing_s = safe_s(with_meal(recipe, start_c=-3.0)) - safe_s(with_meal(recipe, start_c=0.0))
    warming_s = safe_s(with_meal(recipe, start_c=0.0)) - safe_s(with_meal(recipe, start_c=3.0))
    assert thawing_s > 5.0 * warming_s


def test_soups_stay_even_and_plates_lag_at_the_core() -> None:
    for seed in range(4):
        plate, soup = (with_meal(recipe_of(kind, seed), load_g=330.0) for kind in ("plate", "soup"))
        assert safe_s(soup) / steam_s(soup) < 1.05 < safe_s(plate) / steam_s(plate)
        spreads = []
        for recipe in (plate, soup):
            food = food_of(recipe)
            heat(food, steam_s(recipe))
            spreads.append(spread_k(food))
        assert spreads[0] > 1.3 * spreads[1]


def test_once_it_boils_a_soup_steams_harder_than_a_plate() -> None:
    """The share of the power that comes out as steam 15 s after the first boiling."""
    shares = {}
    for kind in ("plate", "soup"):
        each = []
        for seed in range(6):
            recipe = recipe_of(kind, seed)
            food, began_s = food_of(recipe), steam_s(recipe)
            heat(food, began_s + 15.0)
            each.append(food.boiled_g_s / recipe.magnetron.absorbed_w(recipe.meal.load_g, 1.0, began_s))
        shares[kind] = float(np.median(each))
    assert shares["soup"] > 1.5 * shares["plate"]


def test_stirring_evens_the_food_out() -> None:
    recipe = with_meal(recipe_of("stirred-midway"), stirred_share=0.9)
    food = food_of(recipe)
    heat(food, 60.0)
    before_k, before_j = spread_k(food), held_j(food)
    food.stir()
    food.step(0.0, 60.5, door_open=True)
    assert spread_k(food) < 0.25 * before_k
    assert held_j(food) == pytest.approx(before_j, rel=0.01)


def test_a_tight_cover_keeps_the_first_steam_back() -> None:
    """Until the food begins to boil, less vapour gets past a heavy tight lid than where there is none."""
    recipe = recipe_of("plate")
    out_g = {}
    for kind in ("no-cover", "covered-tight"):
        covered = replace(recipe, cover=recipe_of(kind).cover)
        food, total_g = food_of(covered), 0.0
        while food.boiled_g_s < BOILS_G_S:
            heat(food, STEP_S)
            total_g += food.out_g_s * STEP_S
        out_g[kind] = total_g
    assert out_g["covered-tight"] < 0.1 * out_g["no-cover"]


def test_an_open_door_stops_the_heating_and_clears_the_air() -> None:
    open_times = []
    for seed in range(6):
        cook = simulate_reheat("opened-midway", seed, network=False)
        off, on = [one for one in readings_of(cook, "power") if one["t"] > 5.0]
        assert off["level"] == 0.0 < on["level"]
        open_times.append(on["t"] - off["t"])
        known = [one for one in readings_of(cook, "humidity") if "air_c" in one]
        if known:
            air_c = np.interp([off["t"], on["t"]], [one["t"] for one in known], [one["air_c"] for one in known])
            assert air_c[1] < air_c[0]
    assert 8.0 <= min(open_times) <= max(open_times) <= 30.0


def test_nothing_is_absorbed_through_an_open_door_and_the_food_cools_a_little() -> None:
    recipe = recipe_of("opened-midway")
    food = food_of(recipe)
    heat(food, 50.0)
    absorbed_j, held = food.absorbed_j, held_j(food)
    for step in range(40):
        food.step(0.0, 50.0 + step * STEP_S, door_open=True)
    assert food.absorbed_j == absorbed_j
    assert 0.9 * held < held_j(food) < held


@pytest.mark.parametrize(
    ("water", "protein", "fat", "temperature_c", "j_kg_k"),
    [(0.75, 0.22, 0.025, 20.0, 3635.37), (0.684, 0.027, 0.003, 40.0, 3382.47), (1.0, 0.0, 0.0, 60.0, 4190.45)],
)
def test_specific_heats_are_those_of_choi_and_okos(
    water: float, protein: float, fat: float, temperature_c: float, j_kg_k: float
) -> None:
    """Choi & Okos (1986); the mixtures were computed from their polynomials with up to 0.5 % ash, here carbohydrate."""
    food = Composition(water=water, protein=protein, fat=fat, freezes_c=-1.0)
    assert 1000.0 * food.specific_heat_j_g_k(np.array([temperature_c]))[0] == pytest.approx(j_kg_k, rel=1.5e-3)


def test_freezing_holds_the_latent_heat_of_ice() -> None:
    """Water alone, from ice at -10 degC to water at 0 degC: 333.6 J/g and ten degrees of ice at about 2.06 J/g K."""
    curve = HeatCurve(Composition(water=1.0, protein=0.0, fat=0.0, freezes_c=-0.01))
    assert curve.held(0.0) - curve.held(-10.0) == pytest.approx(333.6 + 20.6, rel=0.01)
    for at_c in (-8.0, -0.5, 3.0, 55.0, 99.0):
        assert curve.temperature(curve.held(at_c)) == pytest.approx(at_c, abs=0.1)


@pytest.mark.parametrize(
    ("temperature_c", "j_g"), [(0.0, 2500.9), (20.0, 2453.5), (60.0, 2357.7), (80.0, 2308.0), (100.0, 2256.4)]
)
def test_latent_heat_of_evaporation_follows_the_steam_tables(temperature_c: float, j_g: float) -> None:
    """Reference values computed with CoolProp (IAPWS-95)."""
    assert evaporating_j_g(temperature_c) == pytest.approx(j_g, rel=5e-3)


@pytest.mark.parametrize(
    ("altitude_m", "boils_c"), [(0.0, 100.0), (300.0, 99.1), (1000.0, 96.8), (2000.0, 93.3), (3048.0, 90.0)]
)
def test_water_boils_earlier_high_up(altitude_m: float, boils_c: float) -> None:
    """Published tables for cooks, which differ among themselves by some tenths of a degree."""
    assert boiling_c(altitude_m) == pytest.approx(boils_c, abs=0.5)


def test_food_that_is_frozen_through_steams_when_much_food_does_long_before_its_core_is_hot() -> None:
    """So that steam alone would stop it too early, which the programme's cautions say."""
    after = {
        kind: np.median(
            [
                one.truth["core_at_74c_s"] / one.truth["steam_began_s"]
                for one in (simulate_reheat(kind, seed, network=False) for seed in range(12))
            ]
        )
        for kind in ("large", "deep-frozen")
    }
    assert after["deep-frozen"] > 1.15 * after["large"]
    assert any("frozen through" in caution for caution in shipped()["reheat"].cautions)


def test_a_cup_of_water_takes_up_much_less_than_the_rating() -> None:
    """The cup test of a food-safety agency (2012): 236 mL boil within 2 min at 1100 W, after 4 min at 625 W.

    From a start of 0 to 20 degC that is 53 to 75 % of the rating.
    """
    shares = [
        recipe.magnetron.absorbed_w(236.0, 1.0, 0.0) / recipe.magnetron.rated_w
        for recipe in (recipe_of("plate", seed) for seed in range(40))
    ]
    assert 0.53 < np.median(shares) < 0.75
    litre = replace(recipe_of("plate").magnetron, output_share=1.0, ripple_share=0.0)
    assert litre.absorbed_w(1000.0, 1.0, 0.0) == pytest.approx(litre.rated_w)


@pytest.mark.parametrize(("rated_w", "published_s"), [(1100.0, 120.0), (625.0, 240.0)])
def test_a_cup_of_water_boils_when_it_is_said_to(rated_w: float, published_s: float) -> None:
    """The same cup test: two minutes at about 1100 W, four at about 625 W; from 10 degC, in a cup of 250 g without a cover."""
    boils_s = []
    for seed in range(12):
        cup = with_meal(
            recipe_of("soup", seed),
            load_g=236.0,
            start_c=10.0,
            water_share=1.0,
            protein_share=0.0,
            fat_share=0.0,
            dish_g=250.0,
        )
        food = food_of(replace(with_oven(cup, rated_w=rated_w), cover=recipe_of("no-cover", seed).cover))
        at_s = 0.0
        while food.coldest_c < 98.0:
            heat(food, STEP_S, from_s=at_s)
            at_s += STEP_S
        boils_s.append(at_s)
    assert np.median(boils_s) == pytest.approx(published_s, rel=0.15)


def test_a_meal_is_laid_out_whole() -> None:
    for kind in ALL_KINDS:
        meal = recipe_of(kind, 4).meal
        layers = laid_out(meal, np.random.default_rng(4))
        assert sum(sum(piece.mass_g) for piece in layers) == pytest.approx(meal.load_g)
        assert sum(sum(piece.uptake) for piece in layers) == pytest.approx(1.0)
        for piece in layers:
            by_mass = np.array(piece.uptake) / np.array(piece.mass_g)
            assert by_mass[0] > by_mass[-1]


def test_the_first_safe_moment_is_kept_and_drying_is_counted_from_it() -> None:
    seen = Milestones(spare_g=4.0)
    for at_s, coldest_c, lost_g in ((1.0, 70.0, 5.0), (2.0, SAFE_C, 6.0), (3.0, 73.0, 9.9), (4.0, 75.0, 10.0)):
        seen.note(at_s, coldest_c, 0.0, lost_g)
    assert (seen.safe_s, seen.dry_s, seen.steam_began_s) == (2.0, 4.0, None)


def test_the_cooks_are_of_a_plausible_size() -> None:
    """Invented bounds about reheats of one to five minutes whose core lags the first steam by a fifth to two thirds."""
    truths = [simulate_reheat("plate", seed, network=False).truth for seed in range(25)]
    lags = [truth["core_at_74c_s"] / truth["steam_began_s"] for truth in truths]
    assert 90.0 < np.median([truth["core_at_74c_s"] for truth in truths]) < 240.0
    assert 1.2 < np.median(lags) < 1.5
    assert np.quantile(lags, 0.9) - np.quantile(lags, 0.1) > 0.2


def test_steam_reaches_the_sensor_near_its_beginning(cooks: list[SimulatedCook]) -> None:
    late_s = [
        seen - cook.truth["steam_began_s"]
        for cook in cooks
        if cook.kind not in ("vent-away", "humid-kitchen") and (seen := vapour_seen_s(cook.log)) is not None
    ]
    assert len(late_s) > 15
    assert -20.0 < np.median(late_s) < 25.0


def test_an_opened_door_does_not_look_like_vapour() -> None:
    """The air cools while the door is open: relative humidity jumps, vapour does not."""
    posts: list[dict[str, Any]] = [
        {"as_of": float(t), "readings": {"humidity": [{"t": float(t), "rh_pct": rh_pct, "air_c": air_c}]}}
        for t, rh_pct, air_c in ((1, 30.0, 35.0), (2, 39.1, 30.0), (3, 39.5, 30.0), (4, 46.0, 30.0))
    ]
    assert steam_seen_s(posts) == 2.0
    assert vapour_seen_s(posts) == 4.0
    assert vapour_seen_s(posts[:3]) is None


def test_the_plain_rules_leave_room_above_them() -> None:
    tasks = [
        Task(kind=kind, seed=seed, network=False, way="none", program="reheat") for kind in KINDS for seed in SEEDS
    ]
    scored = score(run(tasks, jobs=1))
    row = scored["kinds"]["all"]
    assert scored["constants"]["steam_ratio"] == 1.35
    assert 0.3 < row["steam_in_window"] < 0.75
    assert 0.3 < row["best_steam_in_window"] < 0.8
    assert 0.1 < row["timer_in_window"] < 0.6
    assert scored["kinds"]["soup"]["steam_in_window"] < 0.5


def test_a_decider_that_stops_in_the_middle_of_the_window_scores_full_marks() -> None:
    cook = simulate_reheat("plate", 4, network=True)
    middle_s = sum(cook.truth["stop_window_s"]) / 2.0

    def oracle(request: Any, state: Any) -> dict[str, Any]:
        left = max(0.0, middle_s - request["as_of"])
        remaining = {"estimate_s": left, "low_s": left - 3.0, "high_s": left + 3.0}
        verdict = "continue" if left > 0.0 else "stop"
        return {"decision": verdict, "as_of": request["as_of"], "remaining": remaining, "state": (state or 0) + 1}

    rows = score([outcome(cook, play(cook, oracle))])["kinds"]
    assert list(rows) == ["plate", "setup said", "all"]
    row = rows["plate"]
    assert (row["in_window"], row["unsafe"], row["dried"], row["never_stopped"]) == (1.0, 0.0, 0.0, 0.0)
    assert row["interval_holds_typical"] == row["interval_meets_window"] == row["forecast_ahead"] == 1.0
    assert row["ahead_error_median_s"] <= 1.5


@pytest.mark.parametrize(("after_safe_s", "unsafe"), [(-15.5, 1.0), (-14.5, 0.0), (1.0, 0.0)])
def test_a_stop_well_before_the_core_is_safe_is_counted(after_safe_s: float, unsafe: float) -> None:
    one = outcome(simulate_reheat("small", 1, network=False), [])
    assert safety_figures([one], [one.earliest_s + after_safe_s]) == {"unsafe": unsafe, "dried": 0.0}


@pytest.mark.parametrize("stop_after_s", [0.5, None])
def test_a_stop_after_drying_out_or_never_is_counted(stop_after_s: float | None) -> None:
    one = outcome(simulate_reheat("small", 1, network=False), [])
    stop_s = None if stop_after_s is None else one.latest_s + stop_after_s
    assert safety_figures([one], [stop_s]) == {"unsafe": 0.0, "dried": 1.0}


def test_cooks_are_scored_apart_by_what_the_log_says() -> None:
    tasks = [
        Task(kind="plate", seed=seed, network=False, way="none", program="reheat", says_setup=seed < 2)
        for seed in SEEDS
    ]
    rows = score(run(tasks, jobs=1))["kinds"]
    assert (rows["setup said"]["cooks"], rows["setup unsaid"]["cooks"], rows["all"]["cooks"]) == (2.0, 1.0, 3.0)


def test_recorded_reheats_are_read_from_a_folder_beside_other_cooks(tmp_path: Path) -> None:
    truths = {}
    recorded = {
        "reheat-covered-loose-plain.ndjson": simulate_reheat("covered-loose", 2, network=False),
        "reheat-soup-network.ndjson": simulate_reheat("soup", 2, network=True),
        "popcorn-regular-plain.ndjson": simulate("regular", 2, network=False),
    }
    for name, cook in recorded.items():
        (tmp_path / name).write_text("\n".join(json.dumps(post) for post in cook.log) + "\n", encoding="utf-8")
        truths[name] = cook.truth
    (tmp_path / TRUTH).write_text(json.dumps(truths), encoding="utf-8")
    found = run_recorded(tmp_path, "reheat", "none", (False, True))
    assert [(one.kind, one.network, one.says_setup) for one in found] == [
        ("covered-loose", False, False),
        ("soup", True, True),
    ]
    assert [one.kind for one in run_recorded(tmp_path, "popcorn", "none", (False,))] == ["regular"]


def test_the_command_prints_a_table_of_reheats(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(
        "sys.argv",
        ["simulation", "--program", "reheat", "--only-rules", "--cooks", "1", "--kinds", "soup", "--network"],
    )
    main()
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("network: steam clock x 1.35, best x ")
    assert [line.split()[0] for line in lines[2:5]] == ["soup", "setup", "all"]


def test_the_command_refuses_a_kind_of_another_programme(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.argv", ["simulation", "--program", "reheat", "--only-rules", "--kinds", "jumbo"])
    with pytest.raises(SystemExit):
        main()
    assert "no kind of reheat: jumbo" in capsys.readouterr().err
