"""The blocks of code in the pages of the project, and the commands in their sentences."""

import re
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.commands.running import ROOT

PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "deploy").rglob("*.md"))]
FENCED = re.compile(r"^ *```(\w*)\n(.*?)^ *```$", re.DOTALL | re.MULTILINE)
PROGRAM = re.compile(
    r"(?:\.venv/bin/)?(?:bash|cc|cookstop|curl|docker|kubectl|micropython|npx|pip|pytest|python3?|sh) "
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A block between two fences.

    Attributes:
        page: the file that it is in, from the top of the project.
        language: what stands beside its first fence.
        text: its lines, as far to the left as they can be.
    """

    page: str
    language: str
    text: str

    @property
    def first_line(self) -> str:
        return self.text.partition("\n")[0]


def blocks() -> list[Block]:
    """All of them, page by page."""
    return [block for page in PAGES for block in _in(page)]


def block(start: str) -> Block:
    """The one that starts so."""
    (found,) = [block for block in blocks() if block.text.startswith(start)]
    return found


def commands() -> list[str]:
    """The commands that stand in sentences and tables, each once."""
    return sorted({span for page in PAGES for span in _spans(page.read_text(encoding="utf-8"))})


def _in(page: Path) -> list[Block]:
    found = FENCED.findall(page.read_text(encoding="utf-8"))
    name = str(page.relative_to(ROOT))
    return [Block(page=name, language=language, text=textwrap.dedent(text)) for language, text in found]


def _spans(text: str) -> Iterator[str]:
    for span in re.findall(r"`([^`]+)`", FENCED.sub("", text)):
        if PROGRAM.match(span):
            yield " ".join(span.split())
