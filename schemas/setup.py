"""What a caller knows before the cook, and the one way to write it down so that two setups can be compared."""

import json
from collections.abc import Mapping
from dataclasses import asdict
from functools import lru_cache
from typing import Any

from marshmallow import ValidationError

from schemas.strict import Number, Object, Strict, nested, received
from service.programs.programme import LEAST_SAFE_CORE_C, SENSORS
from service.readings.setup import Fitted, OvenProfile, Setup


class FittedSchema(Object):
    """A fitted number: the estimate, its interval, and how many cooks it rests on."""

    value = Number(-1e6, 1e6, required=True, says="the estimate")
    low = Number(-1e6, 1e6, says="the lower end of its interval")
    high = Number(-1e6, 1e6, says="the upper end of its interval")
    cooks = Number(1, 1e6, says="how many cooks it rests on")

    def made(self, read: dict[str, Any]) -> Fitted:
        value = read["value"]
        if not read.get("low", value) <= value <= read.get("high", value):
            raise ValidationError("expected low <= value <= high")
        cooks = read.pop("cooks", None)
        return Fitted(**read, cooks=None if cooks is None else int(cooks))


_FITTED = FittedSchema()


class FittedNumber(Strict[Fitted]):
    """Either a bare number or a fitted one; the estimate lies from `low` to `high`."""

    def __init__(self, low: float, high: float, unit: str, *, says: str) -> None:
        super().__init__(says=says)
        self.number = Number(low, high, unit)

    def taken(self, value: Any) -> Fitted:
        if not isinstance(value, dict):
            return Fitted(value=self.number.taken(value))
        fitted: Fitted = _FITTED.taken(value)
        try:
            self.number.taken(fitted.value)
        except ValidationError as error:
            raise ValidationError({"value": error.messages}) from error
        return fitted


class Remarks(Strict[None]):
    """An object that is for people; it is not kept."""

    def taken(self, value: Any) -> None:
        if not isinstance(value, dict):
            raise ValidationError(f"expected an object; received {received(value)}")


class OvenSchema(Object):
    """An oven profile; whatever is left out falls back to the programme's own number."""

    steam_ratio = FittedNumber(1.0, 10.0, "", says="time to a good stop over time to steam")
    steam_ratio_spread = FittedNumber(0.001, 2.0, "", says="standard deviation of the logarithm of that ratio")
    sensor_delay_s = FittedNumber(0.0, 120.0, "s", says="how long steam travels to the humidity sensor")
    sensor_lag_s = FittedNumber(0.0, 120.0, "s", says="time constant of the humidity sensor")
    dead_time_s = FittedNumber(0.0, 1.0, "s", says="how long the microphone is blind after a pop")
    clutter_per_s = FittedNumber(0.0, 10.0, "a second", says="sounds that are taken for pops")
    power_share = FittedNumber(0.05, 3.0, "of the rated power", says="power that reaches the load")
    duty_cycle = FittedNumber(0.05, 1.0, "of the time", says="share of the time that the magnetron is on")

    about = Remarks(says="what a calibration says of its profile: for people, and passed over here")

    def made(self, read: dict[str, Any]) -> OvenProfile:
        read.pop("about", None)
        return OvenProfile(**read)


class SensorList(Strict[tuple[str, ...]]):
    """A list of sensor names, each once; loaded in alphabetical order."""

    def taken(self, value: Any) -> tuple[str, ...]:
        if not isinstance(value, list) or not value or len(value) > len(SENSORS):
            names = " and ".join(SENSORS)
            raise ValidationError(
                f"expected a list of one or more out of {names}, each once; received {received(value)}"
            )
        strangers = [at for at, name in enumerate(value) if name not in SENSORS]
        if strangers:
            expected = " or ".join(SENSORS)
            raise ValidationError({at: [f"expected {expected}; received {received(value[at])}"] for at in strangers})
        if len({*value}) < len(value):
            raise ValidationError("the same sensor is named twice")
        return tuple(sorted(value))


class SetupSchema(Object):
    """What the caller knows beforehand; nothing of it is required.

    Loads into a Setup.
    """

    rated_w = Number(100.0, 3000.0, "W", says="the oven's rated output")
    load_g = Number(5.0, 5000.0, "g", says="popcorn: the mass printed on the bag; reheat: the food")
    gap_s = Number(0.5, 10.0, "s", says="the silence between pops that ends a popcorn cook")
    sensors = SensorList(says="what the appliance has; unsaid, it is judged from what arrives")
    max_heating_s = Number(10.0, 7200.0, "s", says="a lower cap on the heating time than the programme's")
    oven = nested(OvenSchema, "what is known of this very oven")
    site_altitude_m = Number(
        -500.0, 6000.0, "m", says="height above the sea: food boils, and steams, at less heat up there"
    )
    safe_core_c = Number(
        LEAST_SAFE_CORE_C,
        100.0,
        "degC",
        says="what the coldest part of food must reach, where codes ask for more than 74",
    )

    def made(self, read: dict[str, Any]) -> Setup:
        return Setup(**read)


_SETUP = SetupSchema()


@lru_cache(maxsize=256)
def setup_text(setup: Setup) -> str:
    """The canonical text of a setup: equal setups give equal texts. Left-out parts stay out."""
    return json.dumps(_said(asdict(setup)), sort_keys=True, separators=(",", ":"), allow_nan=False)


@lru_cache(maxsize=256)
def setup_of(text: str) -> Setup:
    """The setup that `setup_text` wrote. Raises ValueError (json) or ValidationError for any other text."""
    setup: Setup = _SETUP.taken(json.loads(text))
    return setup


def _said(parts: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: _said(part) if isinstance(part, Mapping) else part for name, part in parts.items() if part is not None
    }
