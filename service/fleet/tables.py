"""One row a cook, for people's own tools: written as Parquet."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any, get_args

from schemas.outcome import found_of
from service.audit.other_stops import RULES
from service.extras import extra
from service.fleet.audited import CookInLog
from service.outcomes.outcome import Outcome

_OF_A_STOP = {"stop_s": float, "later_s": float, "is_foreseen": bool, "pops_after": int}


def columns() -> dict[str, type]:
    """The columns and what they hold; whatever is not known is null."""
    of_outcome = {field.name: _kind(field.type) for field in fields(Outcome)}
    of_rules = {f"{rule.replace('-', '_')}_{name}": kind for rule in RULES for name, kind in _OF_A_STOP.items()}
    return {
        "log": str,
        "line": int,
        "rated_w": float,
        "load_g": float,
        **of_outcome,
        "unpopped_share": float,
        "scorched_share": float,
        "expansion_cm3_per_g": float,
        "mass_lost_share": float,
        "onset_heating_s": float,
        **of_rules,
    }


def row(cook: CookInLog) -> dict[str, Any]:
    """The row of a cook, of what is known of it."""
    finished, cues = cook.audited.finished, cook.audited.cues
    told: dict[str, Any] = {
        "log": cook.log,
        "line": cook.line,
        "rated_w": finished.setup.rated_w,
        "load_g": finished.load_g(),
        **asdict(finished.outcome),
        **found_of(finished),
        "onset_heating_s": None if cues is None else cues.onset_u_s,
    }
    for stop in cook.audited.other_stops:
        told |= {f"{stop.rule.replace('-', '_')}_{name}": getattr(stop, name) for name in _OF_A_STOP}
    return told


def write_parquet(cooks: Iterable[CookInLog], file: Path) -> None:
    """Write the rows of all cooks. Raises MissingExtra without pyarrow, OSError where the file cannot be written."""
    arrow, parquet = extra("pyarrow", "parquet"), extra("pyarrow.parquet", "parquet")
    rows = [row(cook) for cook in cooks]
    parquet.write_table(arrow.Table.from_pylist(rows, schema=schema_of(columns())), file)


def schema_of(columns: Mapping[str, type]) -> Any:
    """The schema of a table with these columns. Raises MissingExtra without pyarrow."""
    arrow = extra("pyarrow", "parquet")
    kinds = {str: arrow.string(), int: arrow.int64(), float: arrow.float64(), bool: arrow.bool_()}
    return arrow.schema([(name, kinds[kind]) for name, kind in columns.items()])


def _kind(hint: Any) -> type:
    """The one type of a field that may also be None."""
    (kind,) = {type(one) if not isinstance(one, type) else one for one in _parts(hint)}
    return kind


def _parts(hint: Any) -> list[Any]:
    return [part for one in get_args(hint) or (hint,) if one is not type(None) for part in (get_args(one) or (one,))]
