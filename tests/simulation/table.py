"""The figures of a run as a table for a terminal."""

from collections.abc import Mapping
from typing import Any

from tests.simulation.score import Row

COLUMNS: tuple[tuple[str, str, str], ...] = (
    ("cooks", "cooks", "count"),
    ("in_window", "in+-4", "share"),
    ("in_window_no_grace", "in", "share"),
    ("far_misses", "far", "share"),
    ("early", "early", "share"),
    ("late", "late", "share"),
    ("unsafe", "unsafe", "share"),
    ("dried", "dried", "share"),
    ("distance_median_s", "dist", "s"),
    ("distance_p90_s", "d90", "s"),
    ("bias_median_s", "bias", "s"),
    ("interval_holds_stop", "holds", "share"),
    ("interval_holds_typical", "typic", "share"),
    ("interval_meets_window", "meets", "share"),
    ("ahead_error_median_s", "err20", "s"),
    ("forecast_ahead", "has20", "share"),
    ("decision_ms", "ms", "ms"),
    ("sketch_in_window", "|sketch", "share"),
    ("sketch_in_window_no_grace", "in", "share"),
    ("sketch_far_misses", "far", "share"),
    ("silence_in_window", "|silen", "share"),
    ("silence_far_misses", "far", "share"),
    ("steam_in_window", "|steam", "share"),
    ("steam_far_misses", "far", "share"),
    ("steam_unsafe", "unsafe", "share"),
    ("steam_dried", "dried", "share"),
    ("best_steam_in_window", "|best", "share"),
    ("best_steam_unsafe", "unsafe", "share"),
    ("best_steam_dried", "dried", "share"),
    ("timer_in_window", "|timer", "share"),
    ("timer_far_misses", "far", "share"),
    ("timer_unsafe", "unsafe", "share"),
    ("timer_dried", "dried", "share"),
)


def table(title: str, scored: dict[str, Any]) -> str:
    """One line a kind: the decider's figures, then the shares of the plain rules, all shares in per cent."""
    shown = [column for column in COLUMNS if any(row.get(column[0]) is not None for row in scored["kinds"].values())]
    constants = scored["constants"]
    lines = [
        f"{title}: steam clock x {constants['steam_ratio']:.2f}, {_hindsight(constants)}timer {constants['timer_s']:.0f} s",
        "kind".ljust(24) + "".join(head.rjust(7) for _, head, _ in shown),
    ]
    lines += [kind.ljust(24) + _cells(row, shown) for kind, row in scored["kinds"].items()]
    return "\n".join(lines)


def _hindsight(constants: Mapping[str, float]) -> str:
    return f"best x {constants['best_steam_ratio']:.2f}, " if "best_steam_ratio" in constants else ""


def _cells(row: Row, shown: list[tuple[str, str, str]]) -> str:
    return "".join(_cell(row.get(key), form).rjust(7) for key, _, form in shown)


def _cell(value: float | None, form: str) -> str:
    if value is None:
        return "-"
    if form == "share":
        return f"{100.0 * value:.0f}"
    return f"{value:.0f}" if form == "count" else f"{value:.2f}" if form == "ms" else f"{value:.1f}"
