"""Answers as the lines of a table."""

from collections.abc import Mapping
from typing import Any

HEADING = f"{'time':>7}  {'pops/s':>6}  {'vapour':>9}  {'decision':<8}  {'remaining (range)':<22}  {'stop by':>7}  rule"

SHOWN = ("rate_per_s", "vapour_g_m3")
"""What a row shows of the evidence."""


def row(answer: Mapping[str, Any]) -> str:
    """One decision on one line, under HEADING; or what was found when the cook was over."""
    if "outcome" in answer:
        return "   ".join(_words(part) for part in (answer["outcome"], answer["found"]) if part) or "nothing was found"
    acoustic, moisture = answer["evidence"]["acoustic"], answer["evidence"]["moisture"]
    cells = (
        f"{answer['as_of']:5.0f} s",
        f"{_number(acoustic.get('rate_per_s'), '.1f'):>6}",
        f"{_number(moisture.get('vapour_g_m3'), '.1f'):>5} g/m3",
        f"{answer['decision']:<8}",
        f"{_remaining(answer['remaining']):<22}",
        f"{answer['stop_by_s']:5.0f} s",
        answer["reasons"][0]["rule"] if answer["reasons"] else "",
    )
    return "  ".join(cells)


def _words(found: Mapping[str, Any]) -> str:
    return "  ".join(f"{name}: {value}" for name, value in found.items())


def _number(value: float | None, form: str) -> str:
    return "-" if value is None else format(value, form)


def _remaining(remaining: Mapping[str, float] | None) -> str:
    if remaining is None:
        return "not known yet"
    return f"{remaining['estimate_s']:.0f} s ({remaining['low_s']:.0f} to {remaining['high_s']:.0f} s)"
