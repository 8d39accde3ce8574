"""One cook over many posts: each post is continued from the state that the client brings back.

Nothing is kept here between requests. What must survive is packed, signed, handed out as `state`, and held against the
next post: the programme and the setup must be the same, and time does not run backwards.
"""

from collections.abc import Mapping
from typing import NamedTuple

from marshmallow import ValidationError

from schemas.own_programme import OWN, OwnProgramme
from schemas.request import DecisionRequest
from schemas.setup import setup_of, setup_text
from service.programs.programme import Programme
from service.readings.cook import Cook
from service.readings.packing import Packed, PackingError, pack, unpack
from service.readings.settled import Settled
from service.readings.setup import Setup
from service.rules.decide import decide
from service.rules.decision import Decision
from service.web.observed import observed
from service.web.problems import Refused, wrong_input
from service.web.settings import Settings
from service.web.tokens import TokenError, Tokens


class Question(NamedTuple):
    """A post together with all that came before it: what a decision is a function of.

    `own` is the programme that the caller brought along, None for one that is served.
    """

    programme: Programme
    setup: Setup
    cook: Cook
    as_of_ms: int
    settled: Settled | None
    interval_pct: float
    own: OwnProgramme | None = None

    @property
    def bound_to(self) -> str:
        """What a state says of the programme: its name, or a digest of one that the caller brought along."""
        return self.programme.name if self.own is None else self.own.binding

    def decided(self) -> Decision:
        """The decision."""
        return decide(
            programme=self.programme,
            setup=self.setup,
            cook=self.cook,
            as_of_ms=self.as_of_ms,
            settled=self.settled,
            interval_pct=self.interval_pct,
        )

    def carried(self, decision: Decision) -> Packed:
        """What the next post about this cook goes on from."""
        return Packed(
            programme=self.bound_to,
            setup_json=setup_text(self.setup).encode(),
            settled=decision.settled,
            cook=self.cook,
        )


class Conversation:
    """Continues posts from their state, and writes the state for the next."""

    def __init__(self, tokens: Tokens, programmes: Mapping[str, Programme], settings: Settings) -> None:
        self._tokens = tokens
        self._programmes = programmes
        self._settings = settings

    def question(self, request: DecisionRequest) -> Question:
        """What is asked, all posts so far taken together. Raises Refused for a post that does not fit its state."""
        return self.going_on(request, None if request.state is None else self._opened(request.state))

    def going_on(self, request: DecisionRequest, carried: Packed | None, own: OwnProgramme | None = None) -> Question:
        """What is asked by a post that goes on from this, whatever its own state. Raises Refused as above.

        `own` is the caller's programme of the post before, which need not be said again where that is at hand.
        """
        if request.program is not None:
            own = request.own
        most = self._settings.max_readings_per_post
        if request.readings > most:
            raise wrong_input("/readings", f"expected {most} readings at most in a post; received {request.readings}")
        cook = request.cook if carried is None else carried.cook.merged(request.cook)
        self._refuse_too_many(cook)
        return Question(
            programme=self._programme(request, carried, own),
            own=own,
            setup=_setup(request, carried),
            cook=cook,
            as_of_ms=_as_of_ms(request, carried, cook),
            settled=None if carried is None else carried.settled,
            interval_pct=request.interval_pct,
        )

    def state(self, question: Question, decision: Decision) -> str:
        """The state that goes with the answer. Raises Refused when the cook has outgrown what can be carried."""
        token = self._tokens.seal(pack(question.carried(decision)))
        if len(token) > self._tokens.longest:
            raise wrong_input("/readings", f"with these the state would be over {self._tokens.longest} characters long")
        return token

    def _opened(self, state: str) -> Packed:
        try:
            return unpack(self._tokens.open(state), limit=self._settings.max_state_bytes)
        except TokenError as error:
            raise _wrong_state(error.kind, str(error)) from error
        except PackingError as error:
            raise _wrong_state("unreadable", str(error)) from error

    def _refuse_too_many(self, cook: Cook) -> None:
        most = self._settings.max_readings_per_cook
        count = cook.pops_ms.size + cook.humidity_ms.size + cook.power_ms.size + cook.restarts_ms.size
        if count > most:
            raise wrong_input("/readings", f"expected {most} readings at most in a cook; with these there are {count}")

    def _programme(self, request: DecisionRequest, carried: Packed | None, own: OwnProgramme | None) -> Programme:
        name = request.program if carried is None else carried.programme
        if name is None:
            raise wrong_input("/program", "this field is required in a post without a state")
        if name.startswith(OWN) and (own is None or own.binding != name):
            says = "this cook was begun with a programme of the caller's own: send the very same with every post"
            raise wrong_input("/program", says)
        if request.program not in (None, name):
            raise wrong_input("/program", f"this cook was begun with {name!r}; leave the field out or send the same")
        programme = self._programmes.get(name) if own is None else own.programme
        if programme is None and carried is None:
            served = ", ".join(self._programmes)
            raise wrong_input("/program", f"expected one of: {served}, or an object; received {name!r}")
        if programme is None:
            raise _wrong_state("programme-gone", f"its programme {name!r} is no longer served")
        return programme


def _setup(request: DecisionRequest, carried: Packed | None) -> Setup:
    if carried is None:
        return request.setup or Setup()
    try:
        setup = setup_of(carried.setup_json.decode())
    except (ValueError, ValidationError) as error:
        raise _wrong_state("setup-gone", "its setup is not one that is taken today") from error
    if request.setup not in (None, setup):
        raise wrong_input("/setup", "this cook was begun with another setup; leave the field out or send the same")
    return setup


def _as_of_ms(request: DecisionRequest, carried: Packed | None, cook: Cook) -> int:
    last_ms = 0 if carried is None else carried.settled.as_of_ms
    if request.as_of_ms is None:
        return max(last_ms, cook.newest_ms() or 0)
    if request.as_of_ms < last_ms:
        late = f"expected {last_ms / 1000:g} s or later, the moment of the last decision"
        raise wrong_input("/as_of", f"{late}; received {request.as_of_ms / 1000:g}")
    return request.as_of_ms


def _wrong_state(kind: str, why: str) -> Refused:
    observed().state_failure = kind
    return Refused("wrong-state", f"/state: {why}", [("/state", why)])
