"""The limits and the programmes that a worker goes by: as they are for a service, but for logs of any length."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import cache

from service.programs.programme import shipped
from service.web.conversation import Conversation
from service.web.settings import SHORTEST_KEY, Settings
from service.web.tokens import Tokens

_MOST_LINES = 10**12


@cache
def log_settings() -> Settings:
    """The limits of the environment. Raises SettingsError for one that cannot be used."""
    return replace(Settings.from_environment(), max_lines=_MOST_LINES)


@cache
def log_conversation() -> Conversation:
    """What continues the cooks of a log, which carry no state: nothing is signed or opened."""
    tokens = Tokens((bytes(SHORTEST_KEY),), purpose="cook state", longest=log_settings().max_state_characters)
    return Conversation(tokens, shipped(), log_settings())


def taken_lines(lines: Iterable[bytes]) -> Iterator[bytes | None]:
    """The lines, None for one that is too long."""
    most = log_settings().max_line_bytes
    return (line if len(line) <= most else None for line in lines)
