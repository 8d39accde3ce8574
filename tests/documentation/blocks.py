"""The blocks of code in the pages of the project."""

import re
import textwrap
from dataclasses import dataclass
from pathlib import Path

from tests.commands.running import ROOT

PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "deploy").rglob("*.md"))]


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


def _in(page: Path) -> list[Block]:
    found = re.findall(r"^ *```(\w*)\n(.*?)^ *```$", page.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE)
    name = str(page.relative_to(ROOT))
    return [Block(page=name, language=language, text=textwrap.dedent(text)) for language, text in found]
