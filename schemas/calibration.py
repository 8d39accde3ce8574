"""A calibration as it is told: an oven profile that `setup.oven` takes as it stands, with what there is to say about it."""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from marshmallow import Schema
from marshmallow import fields as told

from schemas.answer import Told
from service.calibration.calibrate import Calibration, Goodness
from service.readings.setup import Fitted, OvenProfile

_DIGITS = 4
_MOST_NAMED = 5
SAYS = {
    "steam_ratio": "a good stop of a typical bag comes at {} times the onset of steam",
    "steam_ratio_spread": "from bag to bag that ratio spreads by {} (standard deviation of its logarithm)",
    "sensor_delay_s": "steam shows at the humidity sensor {} s after it leaves the bag",
    "sensor_lag_s": "the humidity sensor follows with a lag of {} s",
    "dead_time_s": "the microphone is blind for {} s after a pop",
    "clutter_per_s": "sounds that are taken for pops and are none come {} times a second",
    "power_share": "the bag is heated by {} of the power that such a rating stands for in a typical oven",
    "duty_cycle": "the magnetron is on for {} of the time",
}
"""A sentence for each value of a profile."""


class RefusedValueSchema(Schema):
    """A value that the cooks do not support."""

    value = Told("string", "its name in a profile")
    needs = Told("string", "what it takes, and what there is")


class GoodnessSchema(Schema):
    """How well the popping fits, by time-rescaled residuals."""

    cooks = Told("integer", "in how many cooks it was heard")
    within_bound = Told(
        "integer", "how many of them keep a bound that 95 in 100 would keep if the model were exactly right"
    )
    worst = Told("number", "the largest distance over its bound")
    fits = told.Boolean(metadata={"description": "whether enough of them keep it"})


class AboutSchema(Schema):
    """What there is to say about a profile."""

    program = Told("string", "the programme of the cooks")
    cooks = Told("integer", "how many cooks were looked at; each value says how many it rests on")
    ovens = Told("array", "the labels of their ovens; a profile of more than one is of none")
    interval_pct = Told("number", "how much probability the intervals hold (%)")
    says = Told("array", "the profile in sentences")
    refused = told.List(
        told.Nested(RefusedValueSchema), metadata={"description": "what could not be fitted, and what is missing"}
    )
    goodness = told.Nested(
        GoodnessSchema, allow_none=True, metadata={"description": "of the popping; null where none was heard"}
    )


def profile_of(found: Calibration, programme: str) -> dict[str, Any]:
    """The profile as it is written."""
    values = dict(_values(found.profile))
    level_pct = round(100.0 * found.level, 6)
    return {name: _fitted(value) for name, value in values.items()} | {
        "about": {
            "program": programme,
            "cooks": found.cooks,
            "interval_pct": level_pct,
            "ovens": list(found.ovens),
            "says": [
                *_mixed(found.ovens),
                *(_sentence(name, value, level_pct) for name, value in values.items()),
                *_fit(found.goodness),
            ],
            "refused": [{"value": refusal.value, "needs": refusal.needs} for refusal in found.refusals],
            "goodness": None if found.goodness is None else _goodness(found.goodness),
        }
    }


def refusal(refused: Mapping[str, Any]) -> str:
    """A value that was refused, in a sentence."""
    return f"No {refused['value']}: it needs {refused['needs']}."


def _values(profile: OvenProfile) -> list[tuple[str, Fitted]]:
    every = ((field.name, getattr(profile, field.name)) for field in fields(profile))
    return [(name, value) for name, value in every if value is not None]


def _fitted(value: Fitted) -> dict[str, float | int]:
    said = {"value": _rounded(value.value)}
    if value.low is not None and value.high is not None:
        said |= {"low": _rounded(value.low), "high": _rounded(value.high)}
    return said if value.cooks is None else said | {"cooks": value.cooks}


def _goodness(found: Goodness) -> dict[str, Any]:
    return {
        "cooks": found.cooks,
        "within_bound": found.within_bound,
        "worst": _rounded(found.worst),
        "fits": found.fits,
    }


def _sentence(name: str, value: Fitted, level_pct: float) -> str:
    said = SAYS[name].format(f"{value.value:.3g}")
    sure = "" if value.low is None else f" ({level_pct:g} % interval {value.low:.3g} to {value.high:.3g})"
    return f"{said[0].upper()}{said[1:]}{sure}, from {value.cooks} cooks."


def _mixed(ovens: tuple[str, ...]) -> list[str]:
    if len(ovens) < 2:
        return []
    named = ", ".join(ovens[:_MOST_NAMED]) + (", ..." if len(ovens) > _MOST_NAMED else "")
    return [
        f"These cooks are of {len(ovens)} ovens ({named}), and this is the profile of none of them: fit each by itself."
    ]


def _fit(found: Goodness | None) -> list[str]:
    if found is None:
        return []
    verdict = "fits" if found.fits else "does not fit"
    return [
        f"By its time-rescaled residuals the popping {verdict} the model: {found.within_bound} of {found.cooks} cooks keep a"
        f" bound that 95 of 100 keep if it is exactly right, and the farthest comes to {found.worst:.2g} times that bound."
    ]


def _rounded(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")
