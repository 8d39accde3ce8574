"""The page: the audit's tables, its pictures, and the cooks, in one file that needs no other."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template
from markupsafe import Markup

from service.audit.audit import Audit, GroupFound, OtherRule, OvenControl
from service.audit.control import Control
from service.audit.intervals import PooledShare
from service.audit.measures import Measure
from service.readings.setup import Fitted, OvenProfile
from service.report.cook_series import CookSeries
from service.report.pictures import MOST_GROUPS, picture_of_cook, picture_of_shares

MOST_NOTES = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """How groups, shares, measures, rules and controls are told, as they are elsewhere."""

    group_name: Callable[[GroupFound], str]
    share: Callable[[PooledShare | None], str]
    measures: Callable[[GroupFound], str]
    measure_told: Callable[[Measure], tuple[str, float]]
    other_rule: Callable[[OtherRule], str]
    control_name: Callable[[OvenControl], str]
    settled_by: Callable[[Control], str]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CookToShow:
    """A cook with its picture to be drawn, and what it is called."""

    title: str
    series: CookSeries


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileToShow:
    """The profile of an oven, and what its calibration says about it, in sentences."""

    oven: OvenProfile
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Drawn:
    name: str
    title: str
    says: str
    picture: str


def page(
    audit: Audit,
    cooks: Sequence[CookToShow],
    words: Words,
    profile: ProfileToShow | None = None,
    notes: Iterable[str | None] = (),
) -> str:
    """The HTML; `notes` are what was noted of all cooks, each told once. Raises MissingExtra without matplotlib."""
    noted = list(dict.fromkeys(note for note in notes if note))
    drawn = [_drawn(f"cook-{place}", cook) for place, cook in enumerate(cooks, start=1)]
    return _template().render(
        audit=audit,
        notes=noted[:MOST_NOTES],
        more_notes=len(noted) - MOST_NOTES,
        most_groups=MOST_GROUPS,
        shares_picture=picture_of_shares(audit.groups, "shares-picture"),
        other_rules=[words.other_rule(rule) for rule in audit.other_rules if rule.cooks],
        profile=None if profile is None else list(_fitted(profile.oven)),
        remarks=() if profile is None else profile.remarks,
        cooks=drawn,
        group_name=words.group_name,
        share=words.share,
        measures=words.measures,
        measure_told=words.measure_told,
        control_name=words.control_name,
        settled_by=words.settled_by,
        picture=_figure,
    )


@cache
def _template() -> Template:
    environment = Environment(loader=PackageLoader(__package__, "."), autoescape=True, undefined=StrictUndefined)
    return environment.get_template("page.html")


def _figure(drawn: str | None, name: str, says: str) -> Markup:
    """A picture with its caption; nothing where there is none."""
    if drawn is None:
        return Markup("")
    # What is drawn comes from matplotlib, which escapes the text in it; the caption is escaped here.
    figure = Markup('<figure>{}<figcaption id="{}-says">{}</figcaption></figure>')
    return figure.format(Markup(drawn), _picture_name(name), says)  # noqa: S704


def _picture_name(name: str) -> str:
    return f"{name}-picture"


def _fitted(profile: OvenProfile) -> Iterable[tuple[str, Fitted]]:
    for field in fields(profile):
        fitted = getattr(profile, field.name)
        if fitted is not None:
            yield field.name, fitted


def _drawn(name: str, cook: CookToShow) -> _Drawn:
    return _Drawn(
        name=name,
        title=cook.title,
        says=_says(cook.series),
        picture=picture_of_cook(cook.series, _picture_name(name)),
    )


def _says(series: CookSeries) -> str:
    """The caption of the picture of a cook, which says what there is to see for whoever does not see it."""
    parts = [f"{series.pops_s.size} pops heard in {series.end_s:.0f} s"]
    if series.vapour_g_m3.size:
        parts.append(f"vapour from {series.vapour_g_m3.min():.1f} to {series.vapour_g_m3.max():.1f} g/m³")
    if series.stopped_s is not None:
        parts.append(f"stopped at {series.stopped_s:.1f} s by the {series.stopped_by}")
    if series.good_stop_s is not None:
        parts.append(f"a good stop was at {series.good_stop_s:.1f} s")
    names = {
        "ours": "we",
        "first-silence": "the first silence after the peak",
        "steam-times-constant": "steam times a constant",
    }
    parts += [f"{names[stop.rule]} would have stopped at {stop.stop_s:.1f} s" for stop in series.others]
    if series.off_s.size:
        parts.append("the heating was off where the ground is grey")
    text = "; ".join(parts)
    return f"Pops, vapour, and the stop as it was foreseen: {text}."
