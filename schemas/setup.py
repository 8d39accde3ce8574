"""What a caller knows before the cook, and the one way to write it down so that two setups can be compared."""

import json
from collections.abc import Mapping
from dataclasses import asdict
from functools import lru_cache
from typing import Any

from marshmallow import ValidationError, post_load, validates_schema

from schemas.strict import Number, Object, Strict, nested, received
from service.programs.programme import SENSORS
from service.readings.setup import Fitted, OvenProfile, Setup


class FittedSchema(Object):
    """A fitted number: the estimate, its interval, and how many cooks it rests on."""

    value = Number(-1e6, 1e6, required=True)
    low = Number(-1e6, 1e6)
    high = Number(-1e6, 1e6)
    cooks = Number(1, 1e6)

    @validates_schema(skip_on_field_errors=True)
    def _in_order(self, read: dict[str, Any], **_: Any) -> None:
        value = read["value"]
        if not read.get("low", value) <= value <= read.get("high", value):
            raise ValidationError("expected low <= value <= high")

    @post_load
    def _as_fitted(self, read: dict[str, Any], **_: Any) -> Fitted:
        cooks = read.pop("cooks", None)
        return Fitted(**read, cooks=None if cooks is None else int(cooks))


_FITTED = FittedSchema()


class FittedNumber(Strict[Fitted]):
    """Either a bare number or a fitted one; the estimate lies from `low` to `high`."""

    def __init__(self, low: float, high: float, unit: str) -> None:
        super().__init__()
        self.number = Number(low, high, unit)

    def _deserialize(self, value: object, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Fitted:
        if not isinstance(value, dict):
            return Fitted(value=self.number.deserialize(value))
        fitted: Fitted = _FITTED.load(value)
        try:
            self.number.deserialize(fitted.value)
        except ValidationError as error:
            raise ValidationError({"value": error.messages}) from error
        return fitted


class OvenSchema(Object):
    """An oven profile; whatever is left out falls back to the programme's own number."""

    steam_ratio = FittedNumber(1.0, 10.0, "")
    steam_ratio_spread = FittedNumber(0.001, 2.0, "")
    sensor_delay_s = FittedNumber(0.0, 120.0, "s")
    sensor_lag_s = FittedNumber(0.0, 120.0, "s")
    dead_time_s = FittedNumber(0.0, 1.0, "s")
    clutter_per_s = FittedNumber(0.0, 10.0, "a second")
    power_share = FittedNumber(0.05, 1.5, "of the rated power")
    duty_cycle = FittedNumber(0.05, 1.0, "of the time")

    @post_load
    def _as_profile(self, read: dict[str, Any], **_: Any) -> OvenProfile:
        return OvenProfile(**read)


class SensorList(Strict[tuple[str, ...]]):
    """A list of sensor names, each once; loaded in alphabetical order."""

    def _deserialize(
        self, value: object, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> tuple[str, ...]:
        if not isinstance(value, list) or not value or len(value) > len(SENSORS):
            names = " and ".join(SENSORS)
            raise ValidationError(
                f"expected a list of one or more out of {names}, each once; received {received(value)}"
            )
        strangers = [at for at, name in enumerate(value) if name not in SENSORS]
        if strangers:
            raise ValidationError({at: ["expected " + " or ".join(SENSORS)] for at in strangers})
        if len({*value}) < len(value):
            raise ValidationError("the same sensor is named twice")
        return tuple(sorted(value))


class SetupSchema(Object):
    """What the caller knows; loads into a Setup."""

    rated_w = Number(100.0, 3000.0, "W")
    load_g = Number(5.0, 5000.0, "g")
    gap_s = Number(0.5, 10.0, "s")
    sensors = SensorList()
    max_heating_s = Number(10.0, 7200.0, "s")
    oven = nested(OvenSchema)
    site_altitude_m = Number(-500.0, 6000.0, "m")

    @post_load
    def _as_setup(self, read: dict[str, Any], **_: Any) -> Setup:
        return Setup(**read)


_SETUP = SetupSchema()


@lru_cache(maxsize=256)
def setup_text(setup: Setup) -> str:
    """The canonical text of a setup: equal setups give equal texts. Left-out parts stay out."""
    return json.dumps(_said(asdict(setup)), sort_keys=True, separators=(",", ":"), allow_nan=False)


@lru_cache(maxsize=256)
def setup_of(text: str) -> Setup:
    """The setup that `setup_text` wrote. Raises ValueError (json) or ValidationError for any other text."""
    setup: Setup = _SETUP.load(json.loads(text))
    return setup


def _said(parts: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: _said(part) if isinstance(part, Mapping) else part for name, part in parts.items() if part is not None
    }
