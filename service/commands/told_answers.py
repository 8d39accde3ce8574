"""What is told of the answer to a line of a log: a row of a table, or a document.

Workers import it: it needs no client of the service, which takes as long to import as all that decides.
"""

from collections.abc import Mapping
from typing import Any

from service.commands.table import row
from service.web.json_text import written


def told_row(log: str, answer: Mapping[str, Any]) -> str | None:
    """The answer as a row; None for a line that was wrong."""
    del log
    return row(answer) if "type" not in answer else None


def told_document(log: str, answer: Mapping[str, Any], *, several: bool) -> str:
    """The answer as a document, which says of which log it is where there are several."""
    return written({"log": log, **answer} if several else dict(answer))
