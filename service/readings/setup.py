"""What the caller knows of an oven and its load before the cook; nothing of it is ever required."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """A number fitted from an oven's own cooks, or simply known.

    Attributes:
        value: the estimate.
        low, high: its interval, when it was fitted.
        cooks: how many cooks it rests on, when it was fitted.
    """

    value: float
    low: float | None = None
    high: float | None = None
    cooks: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OvenProfile:
    """What is known of one oven; whatever is None falls back to the programme's own number.

    Attributes:
        steam_ratio: time to a good stop over time to steam, both on the heating clock (1).
        steam_ratio_spread: standard deviation of its logarithm (1).
        sensor_delay_s: transport delay from the food to the humidity sensor (s).
        sensor_lag_s: first-order lag of the humidity sensor (s).
        dead_time_s: how long the microphone stays blind after a pop (s).
        clutter_per_s: rate of sounds that are taken for pops (1/s).
        power_share: power that reaches the load over the rated power (1).
        duty_cycle: share of the time that the magnetron is on (1).
    """

    steam_ratio: Fitted | None = None
    steam_ratio_spread: Fitted | None = None
    sensor_delay_s: Fitted | None = None
    sensor_lag_s: Fitted | None = None
    dead_time_s: Fitted | None = None
    clutter_per_s: Fitted | None = None
    power_share: Fitted | None = None
    duty_cycle: Fitted | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """What the caller knows before the cook; whatever is None was not said.

    Attributes:
        rated_w: the oven's rated output (W).
        load_g: popcorn: the mass printed on the bag; reheat: the food (g).
        gap_s: the silence between pops that ends a popcorn cook (s).
        sensors: what the appliance has, in alphabetical order, out of `acoustic` and `moisture`.
        max_heating_s: a cap on the heating time, lower than the programme's (s).
        oven: what is known of this very oven.
        site_altitude_m: height above the sea (m).
        safe_core_c: what the coldest part of food must reach, where it is more than the programme's own (degC).
    """

    rated_w: float | None = None
    load_g: float | None = None
    gap_s: float | None = None
    sensors: tuple[str, ...] | None = None
    max_heating_s: float | None = None
    oven: OvenProfile | None = None
    site_altitude_m: float | None = None
    safe_core_c: float | None = None
