"""One row a decision of a replayed log, for people's own tools: written as Parquet, as the decisions come."""

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import MappingProxyType
from typing import Any, Protocol, TypeAlias

from service.extras import extra
from service.fleet.tables import schema_of

Row: TypeAlias = dict[str, Any]
_TOGETHER = 10_000

_TOLD: Mapping[str, tuple[type, tuple[str | int, ...]]] = MappingProxyType(
    {
        "as_of_s": (float, ("as_of",)),
        "decision": (str, ("decision",)),
        "rule": (str, ("reasons", 0, "rule")),
        "says": (str, ("reasons", 0, "says")),
        "remaining_s": (float, ("remaining", "estimate_s")),
        "remaining_low_s": (float, ("remaining", "low_s")),
        "remaining_high_s": (float, ("remaining", "high_s")),
        "interval_pct": (float, ("remaining", "interval_pct")),
        "stop_by_s": (float, ("stop_by_s",)),
        "post_again_in_s": (float, ("post_again_in_s",)),
        "acoustic_status": (str, ("evidence", "acoustic", "status")),
        "pops": (int, ("evidence", "acoustic", "pops")),
        "rate_per_s": (float, ("evidence", "acoustic", "rate_per_s")),
        "silence_s": (float, ("evidence", "acoustic", "silence_s")),
        "kernels_left": (float, ("evidence", "acoustic", "kernels_left", "estimate")),
        "moisture_status": (str, ("evidence", "moisture", "status")),
        "vapour_g_m3": (float, ("evidence", "moisture", "vapour_g_m3")),
        "baseline_g_m3": (float, ("evidence", "moisture", "baseline_g_m3")),
        "onset_s": (float, ("evidence", "moisture", "onset_s")),
        "heating_s": (float, ("evidence", "heating", "heating_s")),
        "full_power_s": (float, ("evidence", "heating", "full_power_s")),
        "problem": (str, ("detail",)),
    }
)
"""What a row holds of an answer: its kind, and where it stands in it. `problem` says why a wrong line was not taken."""


class DecisionsFile(Protocol):
    """Takes rows."""

    def __call__(self, rows: Iterable[Row]) -> None:
        """Write these rows."""
        ...


def row_of(log: str, line: int, answer: Mapping[str, Any]) -> Row | None:
    """The row of an answer to a line of a log; whatever was not told is null. None for what was found after a cook."""
    if "outcome" in answer:
        return None
    return {"log": log, "line": line} | {name: _at(answer, path) for name, (_, path) in _TOLD.items()}


@contextmanager
def decisions_file(file: Path) -> Iterator[DecisionsFile]:
    """Writes rows to a file for as long as the block runs. Raises MissingExtra without pyarrow, OSError."""
    arrow, parquet = extra("pyarrow", "parquet"), extra("pyarrow.parquet", "parquet")
    schema = schema_of({"log": str, "line": int} | {name: kind for name, (kind, _) in _TOLD.items()})
    held: list[Row] = []
    with parquet.ParquetWriter(file, schema) as writer:

        def write(rows: Iterable[Row], least: int = _TOGETHER) -> None:
            held.extend(rows)
            if len(held) >= least:
                writer.write_table(arrow.Table.from_pylist(held, schema=schema))
                held.clear()

        yield write
        write((), least=1)


def _at(answer: Any, path: tuple[str | int, ...]) -> Any:
    for step in path:
        if answer is None:
            return None
        answer = answer[step] if isinstance(step, int) else answer.get(step)
    return answer
