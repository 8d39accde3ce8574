"""Which meal this is, from when it steamed, how suddenly the steam came, and what is known of the oven and the load.

Model. Three families of food, each with its own specific heat and its own flow of heat into the core: solid food, solid food
whose core is slow (a thick piece, a gap between two, a cold spot), and liquids, which mix. Mass m, power P and flow G are
log-normal, with the spreads of what is not known; P is the rating times the share that a load of this mass takes up
(service.evidence.heat_balance). A meal of service.forecast.meals needs

    ln G - ln P = its flow over its power,      ln m - ln P = ln(time to steam) - ln(its heat)

so that its weight in a family is a normal density of two numbers, worked out in closed form; the mass that goes with it is the
mean of m, given both. Steam that came all at once speaks for a liquid (service.evidence.sudden_steam), and steam that comes
evenly a little against one, since a slow sensor makes all steam come so: each way of coming has a density of its own, normal in
both of its numbers, and either family has its share of either way.

Range. As of service.forecast.meals; loads of 50 g to 3 kg.
"""

from dataclasses import dataclass
from math import exp, hypot, log, sqrt
from typing import NamedTuple

import numpy as np

from service.evidence.food_heat import specific_heat_j_g_k
from service.evidence.heat_balance import absorbed_share
from service.evidence.sudden_steam import SuddenSteam
from service.forecast.meals import Meals
from service.units import FloatArray

_WARM_C = 50.0
_LEAST_PRIOR = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class PriorNumbers:
    """Numbers of a programme for what food and ovens are like; the programme's file says what each does."""

    typical_load_g: float
    load_log_sd: float
    known_load_log_sd: float
    typical_rated_w: float
    rated_log_sd: float
    power_share: float
    power_share_log_sd: float
    half_load_g: float
    heat_log_sd: float
    onset_sd_s: float
    solid_water_share: float
    solid_protein_share: float
    solid_fat_share: float
    solid_flow_w_k: float
    solid_flow_log_sd: float
    flow_exponent: float
    slow_prior: float
    slow_flow_w_k: float
    slow_flow_log_sd: float
    liquid_prior: float
    liquid_water_share: float
    liquid_protein_share: float
    liquid_fat_share: float
    liquid_flow_w_k: float
    liquid_flow_log_sd: float
    even_evenness: float
    even_evenness_sd: float
    even_steepness: float
    even_steepness_sd: float
    sudden_evenness: float
    sudden_evenness_sd: float
    sudden_steepness: float
    sudden_steepness_sd: float
    solid_sudden_share: float
    liquid_sudden_share: float
    strange_density: float


class _Family(NamedTuple):
    """One family of food: prior weight, specific heat, flow at the typical load and its log sd, and how well it accounts for
    the way in which the steam came."""

    weight: float
    heat_j_g_k: float
    flow_w_k: float
    flow_log_sd: float
    steam_density: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Steamed:
    """What was seen of the steam, and told of oven and load.

    Attributes:
        onset_u_s: when it began, on the heating clock.
        level: mean power level until then, pauses included.
        sudden: as service.evidence.sudden_steam tells it, None where it does not.
        rated_w, load_g: None where not told.
        growth: as service.evidence.steam_growth tells it, None where it does not; it tells no meal from another.
    """

    onset_u_s: float
    level: float
    sudden: SuddenSteam | None
    rated_w: float | None
    load_g: float | None
    growth: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MealPosterior:
    """Weights of the meals, and what they say of the food.

    Attributes:
        weight: (n,) in the order of the meals, with a sum of one.
        log_load, log_load_sd: mean and standard deviation of the logarithm of the mass in g.
        liquid_share: how probable a liquid is.
    """

    weight: FloatArray
    log_load: float
    log_load_sd: float
    liquid_share: float


class _Known(NamedTuple):
    """Means and variances of the logarithms of mass (g) and power (W), and the variance of what is read off the clock."""

    log_load: float
    load_var: float
    log_power: float
    power_var: float
    onset_var: float


def meal_posterior(meals: Meals, prior: PriorNumbers, seen: Steamed) -> MealPosterior:
    """Weigh the meals by what was seen."""
    known = _known(prior, seen)
    log_onset, log_level = log(seen.onset_u_s), log(seen.level)
    load_flow = prior.flow_exponent * (known.log_load - log(prior.typical_load_g))
    flow_cov = prior.flow_exponent * known.load_var + known.power_var
    both_var = known.load_var + known.power_var + known.onset_var
    log_weights, log_loads = [], []
    for family in _families(prior, seen.sudden):
        flow_off = meals.log_conduction - (log(family.flow_w_k) + load_flow - known.log_power - log_level)
        heat_off = log_onset - log(family.heat_j_g_k) - known.log_load + known.log_power - meals.log_heat_k
        flow_var = family.flow_log_sd**2 + prior.flow_exponent**2 * known.load_var + known.power_var
        det = flow_var * both_var - flow_cov**2
        # The inverse of the covariance applied to both deviations.
        to_flow = (both_var * flow_off - flow_cov * heat_off) / det
        to_heat = (flow_var * heat_off - flow_cov * flow_off) / det
        log_weights.append(
            -0.5 * (flow_off * to_flow + heat_off * to_heat) + log(family.weight * family.steam_density / sqrt(det))
        )
        log_loads.append(known.log_load + known.load_var * (prior.flow_exponent * to_flow + to_heat))
    log_weight = np.array(log_weights)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    log_load = np.array(log_loads)
    mean = float((weight * log_load).sum())
    spread = float((weight * (log_load - mean) ** 2).sum())
    within = known.load_var * (1.0 - known.load_var / both_var)
    return MealPosterior(
        weight=weight.sum(axis=0),
        log_load=mean,
        log_load_sd=sqrt(spread + within),
        liquid_share=float(weight[-1].sum()),
    )


def _known(prior: PriorNumbers, seen: Steamed) -> _Known:
    load_g = seen.load_g or prior.typical_load_g
    share = absorbed_share(load_g, prior.power_share, prior.half_load_g)
    power_sd = prior.power_share_log_sd if seen.rated_w else hypot(prior.power_share_log_sd, prior.rated_log_sd)
    return _Known(
        log_load=log(load_g),
        load_var=(prior.known_load_log_sd if seen.load_g else prior.load_log_sd) ** 2,
        log_power=log((seen.rated_w or prior.typical_rated_w) * share),
        power_var=power_sd**2,
        onset_var=prior.heat_log_sd**2 + (prior.onset_sd_s / seen.onset_u_s) ** 2,
    )


def _families(prior: PriorNumbers, sudden: SuddenSteam | None) -> tuple[_Family, _Family, _Family]:
    """Solid food, solid food with a slow core, and liquids. Raises ValueError when the last two are more than all."""
    solid = specific_heat_j_g_k(prior.solid_water_share, prior.solid_protein_share, prior.solid_fat_share, _WARM_C)
    liquid = specific_heat_j_g_k(prior.liquid_water_share, prior.liquid_protein_share, prior.liquid_fat_share, _WARM_C)
    as_solid, as_liquid = _steam_densities(prior, sudden)
    solid_prior = 1.0 - prior.slow_prior - prior.liquid_prior
    if solid_prior < 0.0:
        raise ValueError(
            f"slow_prior and liquid_prior are more than one together: {prior.slow_prior} and {prior.liquid_prior}"
        )
    return (
        _Family(max(solid_prior, _LEAST_PRIOR), solid, prior.solid_flow_w_k, prior.solid_flow_log_sd, as_solid),
        _Family(max(prior.slow_prior, _LEAST_PRIOR), solid, prior.slow_flow_w_k, prior.slow_flow_log_sd, as_solid),
        _Family(
            max(prior.liquid_prior, _LEAST_PRIOR), liquid, prior.liquid_flow_w_k, prior.liquid_flow_log_sd, as_liquid
        ),
    )


def _steam_densities(prior: PriorNumbers, sudden: SuddenSteam | None) -> tuple[float, float]:
    """How well solid and liquid food account for the way in which the steam came."""
    if sudden is None:
        return 1.0, 1.0
    evenly = _normal_density(sudden.evenness, prior.even_evenness, prior.even_evenness_sd) * _normal_density(
        sudden.steepness, prior.even_steepness, prior.even_steepness_sd
    )
    at_once = _normal_density(sudden.evenness, prior.sudden_evenness, prior.sudden_evenness_sd) * _normal_density(
        sudden.steepness, prior.sudden_steepness, prior.sudden_steepness_sd
    )
    # What neither way of coming accounts for, as the vapour of something else, says nothing.
    as_solid, as_liquid = (
        evenly + share * (at_once - evenly) + prior.strange_density
        for share in (prior.solid_sudden_share, prior.liquid_sudden_share)
    )
    return as_solid, as_liquid


def _normal_density(value: float, mean: float, sd: float) -> float:
    return exp(-0.5 * ((value - mean) / sd) ** 2) / sd
