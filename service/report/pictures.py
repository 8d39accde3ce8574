"""Pictures as SVG, to stand inside a page: drawn by matplotlib (extra `report`), the same for the same data.

Lines differ in their dashes and marks as well as in their colour, and text stays text, to be read aloud and searched.
"""

import re
from collections.abc import Sequence
from io import StringIO
from typing import Any
from warnings import catch_warnings, filterwarnings

import numpy as np

from service.audit.audit import GroupFound
from service.audit.intervals import PooledShare
from service.extras import extra
from service.report.cook_series import CookSeries

_STYLE = {
    "svg.fonttype": "none",
    "svg.hashsalt": "cookstop",
    "font.size": 9.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "axes.grid": True,
    "grid.color": "#dddddd",
    "lines.linewidth": 1.4,
}
_STOPS = {
    "ours": ("our stop", "#1b4f9c", "-"),
    "first-silence": ("first silence after the peak", "#7a5195", ":"),
    "steam-times-constant": ("steam times a constant", "#00695c", "-."),
}
_INK, _REAL, _GOOD = "#333333", "#b3261e", "#2e7d32"
_BIN_S = 2.0
MOST_GROUPS = 60
"""More groups than this no picture shows; the table does."""


def picture_of_cook(series: CookSeries, name: str) -> str:
    """Pops, vapour and the stop as it was foreseen, over the same seconds. `name` is unlike that of any other picture."""
    figure, axes = _figure(3, 5.4)
    pops, vapour, forecast = axes
    bins = np.arange(0.0, series.end_s + _BIN_S, _BIN_S)
    counts, edges = np.histogram(series.pops_s, bins)
    pops.bar(edges[:-1], counts / _BIN_S, width=_BIN_S, align="edge", color="#c9a227", edgecolor=_INK, linewidth=0.3)
    pops.set_ylabel("pops a second")
    vapour.plot(series.vapour_s, series.vapour_g_m3, color="#00695c")
    vapour.set_ylabel("vapour (g/m³)")
    forecast.fill_between(series.asked_s, series.low_s, series.high_s, color="#9db8dd", label="80 % interval")
    forecast.plot(series.asked_s, series.foreseen_s, color="#1b4f9c", label="stop as foreseen")
    forecast.plot([0.0, series.end_s], [0.0, series.end_s], color=_INK, linewidth=0.8, linestyle="--", label="now")
    forecast.set_ylabel("stop foreseen (s)")
    forecast.set_xlabel("seconds since the start")
    known = np.concatenate((series.high_s[np.isfinite(series.high_s)], [series.end_s]))
    forecast.set_ylim(0.0, 1.1 * float(min(known.max(), 2.0 * series.end_s)))
    for axis in axes:
        _mark(axis, series)
    # A stop that is foreseen far beyond the end would squeeze all that happened.
    last_s = max((stop.stop_s for stop in series.others), default=0.0)
    axes[0].set_xlim(0.0, 1.02 * max(series.end_s, min(last_s, 1.3 * series.end_s)))
    handles, labels = forecast.get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=4, frameon=False)
    return _svg(figure, name)


def picture_of_shares(groups: Sequence[GroupFound], name: str) -> str | None:
    """The shares unpopped and scorched of the groups, of MOST_GROUPS at most, with intervals; None where nobody counted."""
    told = [group for group in groups if group.unpopped is not None or group.scorched is not None][:MOST_GROUPS]
    if not told:
        return None
    figure, (axis,) = _figure(1, 1.2 + 0.42 * len(told))
    rows = np.arange(len(told), dtype=np.float64)
    for shift, mark, colour, label, shares in (
        (-0.13, "o", "#1b4f9c", "unpopped", [group.unpopped for group in told]),
        (0.13, "s", _REAL, "scorched", [group.scorched for group in told]),
    ):
        _intervals(axis, rows + shift, shares, {"fmt": mark, "color": colour, "label": label, "capsize": 3})
    axis.set_yticks(rows, [_plain("all" if group.by is None else f"{group.by} {group.name}") for group in told])
    axis.set_ylim(len(told) - 0.5, -0.5)
    axis.set_xlim(left=0.0)
    axis.set_xlabel("per cent of the kernels, with the interval")
    figure.legend(loc="outside lower center", ncols=2, frameon=False)
    return _svg(figure, name)


def _plain(text: str) -> str:
    """Text in which nothing is taken for a formula."""
    return text.replace("$", r"\$")


def _intervals(axis: Any, rows: Any, shares: Sequence[PooledShare | None], style: dict[str, Any]) -> None:
    known = [place for place, share in enumerate(shares) if share is not None]
    if not known:
        return
    found = [share for share in shares if share is not None]
    ends = [share.allowing_for_bags or share.exact for share in found]
    values = 100.0 * np.array([share.value for share in found])
    low, high = (100.0 * np.array([getattr(one, end) for one in ends]) for end in ("low", "high"))
    axis.errorbar(values, rows[known], xerr=np.maximum((values - low, high - values), 0.0), **style)


def _mark(axis: Any, series: CookSeries) -> None:
    """The stops, and where the heating was off."""
    for begins_s, ends_s in series.off_s:
        axis.axvspan(begins_s, ends_s, color="#eeeeee", zorder=0)
    for stop in series.others:
        label, colour, dashes = _STOPS[stop.rule]
        axis.axvline(stop.stop_s, color=colour, linestyle=dashes, label=label)
    if series.stopped_s is not None:
        axis.axvline(series.stopped_s, color=_REAL, linewidth=2.0, label=f"real stop, by the {series.stopped_by}")
    if series.good_stop_s is not None:
        axis.axvline(series.good_stop_s, color=_GOOD, linestyle=(0, (5, 1)), linewidth=2.0, label="good stop")


def _figure(panels: int, height_in: float) -> tuple[Any, Any]:
    figure = extra("matplotlib.figure", "report").Figure(figsize=(7.2, height_in), layout="constrained")
    with extra("matplotlib", "report").rc_context(_STYLE):
        axes = figure.subplots(panels, 1, sharex=True, squeeze=False)[:, 0]
    return figure, axes


def _svg(figure: Any, name: str) -> str:
    text = StringIO()
    with extra("matplotlib", "report").rc_context(_STYLE), catch_warnings():
        # What its own font lacks, that of the reader has.
        filterwarnings("ignore", message="Glyph")
        figure.savefig(text, format="svg", metadata={"Date": None, "Creator": None})
    drawn = text.getvalue()
    drawn = drawn[drawn.index("<svg") :]
    # The ids of all pictures of a page must differ. The caption says what a picture shows.
    drawn = re.sub(r'(id="|href="#|url\(#)', rf"\g<1>{name}-", drawn)
    return drawn.replace("<svg ", f'<svg role="img" aria-labelledby="{name}-says" ', 1)
