"""The finished cooks of a body, which is taken whole or not at all."""

from collections.abc import Iterator

from service.web.bodies import lines
from service.web.conversation import Conversation
from service.web.cook_logs import CookRead, WrongLine, cooks_of
from service.web.long_requests import still_here
from service.web.problems import Refused
from service.web.settings import Settings


def posted_cooks(conversation: Conversation, settings: Settings) -> Iterator[CookRead]:
    """Each cook of the body at hand as it ends. Raises Refused for the first thing wrong, once the body is read."""
    tell = still_here()
    wrong: Refused | None = None
    cooks = 0
    for one in cooks_of(lines(settings.max_line_bytes), conversation, settings):
        tell()
        if wrong is not None:
            continue
        if isinstance(one, WrongLine):
            wrong = Refused(one.refused.kind.slug, f"line {one.line}: {one.refused.detail}", one.refused.errors)
        elif cooks == settings.max_cooks:
            wrong = Refused("too-many-cooks", f"expected {settings.max_cooks} cooks at most")
        else:
            cooks += 1
            yield one
    if wrong is not None:
        raise wrong
