"""A decision request: one post about one cook."""

from typing import Any, NamedTuple

from schemas.columns import LATEST_S
from schemas.own_programme import OwnProgramme, ProgrammeField
from schemas.readings import NOTHING, ReadingsSchema
from schemas.setup import SetupSchema
from schemas.strict import Number, Object, Text, nested
from service.readings.cook import Cook
from service.readings.setup import Setup


class DecisionRequest(NamedTuple):
    """A post that is well-formed in itself; it has not yet been held against its state.

    Attributes:
        program, setup, state: None where left out. A programme of the caller's own is named by what a state is bound to.
        own: that programme; None where the program was only named, or left out.
        cook: the readings of this post alone.
        readings: how many readings the post has, doubles included.
        as_of_ms: the moment asked about on the cook clock, None where left out.
        interval_pct: how much probability the interval in the answer shall hold (%).
    """

    program: str | None
    setup: Setup | None
    cook: Cook
    readings: int
    as_of_ms: int | None
    interval_pct: float
    state: str | None
    own: OwnProgramme | None = None


class DecisionRequestSchema(Object):
    """One post about one cook.

    Loads into a DecisionRequest.
    """

    program = ProgrammeField(
        says="as GET /v1/programs lists them, or a programme of your own as GET /v1/programs/{name} tells one, to be sent"
        " with every post; required unless the state carries it"
    )
    setup = nested(SetupSchema, "what the caller knows beforehand; fixed by the first post")
    readings = nested(
        ReadingsSchema, "what the sensors read since the last post; without a state, the whole cook so far"
    )
    as_of = Number(0.0, LATEST_S, "s", says="the moment asked about on the cook clock; unsaid, the newest reading")
    interval_pct = Number(
        50.0, 98.0, "%", says="how much probability the interval in the answer shall hold; unsaid, 80"
    )
    state = Text(10_000_000, says="from the last answer, unread")

    def made(self, read: dict[str, Any]) -> DecisionRequest:
        batch = read.get("readings", NOTHING)
        as_of_s = read.get("as_of")
        program = read.get("program")
        own = program if isinstance(program, OwnProgramme) else None
        return DecisionRequest(
            program=program if own is None else own.binding,
            setup=read.get("setup"),
            cook=batch.cook,
            readings=batch.readings,
            as_of_ms=None if as_of_s is None else round(as_of_s * 1000),
            interval_pct=read.get("interval_pct", 80.0),
            state=read.get("state"),
            own=own,
        )
