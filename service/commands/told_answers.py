"""What is told of a line of a log: a row of a table, or a document.

Workers import it: it needs no client of the service, which takes as long to import as all that decides.
"""

from collections.abc import Mapping
from typing import Any

from schemas.answer import answer_of
from service.commands.table import SHOWN, row
from service.fleet.replayed import document_of
from service.rules.decision import Decision
from service.web.json_text import written


def told_row(log: str, found: Decision | Mapping[str, Any]) -> str | None:
    """The decision, or what else was answered, as a row; None for a line that was wrong."""
    del log
    if isinstance(found, Decision):
        return row(answer_of(found, SHOWN))
    return row(found) if "type" not in found else None


def told_document(log: str, found: Decision | Mapping[str, Any], *, several: bool) -> str:
    """The answer as a document, which says of which log it is where there are several."""
    document = document_of(found)
    return written({"log": log, **document} if several else dict(document))
