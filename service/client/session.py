"""One cook, from its start to its last reading: what a hub holds while the oven runs.

The session asks when the service has said that asking is worth while, hands the state on, keeps what could not be
sent, and stops by itself at the last deadline that it was given. Nothing in it waits but `wait`, `deliver`, and a post
for its reply, which it never awaits beyond the deadline.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Literal, Self

from service.client.contact import Contact, NoContact
from service.client.edge import Edge, Manners
from service.client.outbox import LATEST_S, Batch, Outbox
from service.client.reply import Answer, NotAnswered, Refused, Verdict, answer_in
from service.client.transport import Transport, Unreachable

# However often the service would like to be asked: no sooner than this, and no later.
_SOONEST_S, _LATEST_AGAIN_S = 0.1, 10.0
_LEAST_TIMEOUT_S = 0.05
# A moment that is so near has come: clocks are read in steps.
_TICK_S = 0.001


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where the cook stands.

    Attributes:
        decision: `stop` from the stop until a restart; before that what the service said last, `continue` at first.
        stop_by_s: when the session stops by itself, on the cook clock (s).
        stopped_by: who stopped, None while the oven may heat.
        answer: the last answer of the service, None before the first.
        trouble: why the last post was not answered, None where it was.
        unsent: readings that the service has yet to get.
    """

    decision: Verdict
    stop_by_s: float
    stopped_by: Literal["service", "deadline"] | None
    answer: Answer | None
    trouble: str | None
    unsent: int


class CookSession:
    """One cook. The oven starts when this is made: that is 0 on the cook clock.

    Readings may be put in from any thread; everything else belongs to one.
    """

    def __init__(
        self,
        transport: Transport,
        *,
        program: str | Mapping[str, Any],
        setup: Mapping[str, Any] | None = None,
        contact: Contact | None = None,
        manners: Manners | None = None,
        edge: Edge | None = None,
    ) -> None:
        """`program` is the name of a programme, or one of your own as the service tells its own.

        `setup` is what is known beforehand, as a post says it. `contact` is opened to stop.
        """
        self._transport = transport
        own = {} if isinstance(program, str) else {"program": dict(program)}
        self._head = {"program": program, **own} | ({} if setup is None else {"setup": dict(setup)})
        # A state carries the name of a programme, but of one of your own only what it is bound to.
        self._always = own
        self._contact = contact or NoContact()
        self._manners = manners or Manners()
        self._edge = edge or Edge()
        self._outbox = Outbox()
        self._state: str | None = None
        self._asked_s = 0.0
        self._answer: Answer | None = None
        self._trouble: str | None = None
        self._failures = 0
        self._restarts = 0
        self._level = 1.0
        self._stopped_by: Literal["service", "deadline"] | None = None
        self._due_s = 0.0
        self._start_s = self._edge.clock()
        self._stop_by_s = 0.0
        self._allow_until(self._manners.unanswered_s)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._contact.open()

    def now_s(self) -> float:
        """Seconds since the start of the cook."""
        return self._edge.clock() - self._start_s

    def pop(self, t_s: float | None = None) -> None:
        """A pop was heard, at this time on the cook clock or just now. Raises ValueError for a time that cannot be."""
        self._outbox.pop(self._at(t_s))

    def humidity(self, rh_pct: float, air_c: float | None = None, t_s: float | None = None) -> None:
        """Relative humidity (%) in the exhaust, and the temperature of the air beside the sensor. Raises as `pop`."""
        self._outbox.humidity(self._at(t_s), rh_pct, air_c)

    def power(self, level: float, t_s: float | None = None) -> None:
        """The magnetron runs at this share of full power from here on, 0 for off. Raises as `pop`."""
        self._outbox.power(self._at(t_s), level)
        if level > 0.0:
            self._level = level

    def restart(self, t_s: float | None = None) -> None:
        """Somebody has deliberately started the oven again after a stop. Raises as `pop`."""
        at_s = self._at(t_s)
        self._restarts += 1
        self._outbox.restart(at_s)
        self._outbox.power(at_s, self._level)
        self._stopped_by = None
        self._due_s = 0.0
        self._allow_until(self.now_s() + self._manners.unanswered_s)

    def goes_on(self) -> bool:
        """Whether the oven may go on heating; the deadline is kept here too."""
        self._keep_deadline()
        return self._stopped_by is None

    @property
    def standing(self) -> Standing:
        """Where the cook stands."""
        said: Verdict = "continue" if self._answer is None else self._answer.decision
        return Standing(
            decision=said if self._stopped_by is None else "stop",
            stop_by_s=self._stop_by_s,
            stopped_by=self._stopped_by,
            answer=self._answer,
            trouble=self._trouble,
            unsent=self._outbox.unsent,
        )

    def poll(self) -> Standing:
        """Ask the service if it is time, stop if it is time. Raises Refused, and nothing for a service that is gone."""
        self._keep_deadline()
        if self._is_due():
            self._post()
            self._keep_deadline()
        return self.standing

    def wait(self, most_s: float) -> None:
        """Let time pass: `most_s` at most, less when a question or the deadline comes first."""
        moments = [self.now_s() + most_s]
        if self._stopped_by is None:
            moments.append(self._stop_by_s)
        if self._stopped_by is None or self._outbox.unsent:
            moments.append(self._due_s)
        self._edge.wait(max(0.0, min(moments) - self.now_s()))

    def deliver(self, within_s: float) -> bool:
        """Go on until the service has every reading, but no longer than this; whether it has. Raises as `poll`."""
        until_s = self.now_s() + within_s
        while self._outbox.unsent and self.now_s() < until_s:
            self.poll()
            if self._outbox.unsent:
                self.wait(min(_SOONEST_S, within_s))
        return not self._outbox.unsent

    def _at(self, t_s: float | None) -> float:
        return self.now_s() if t_s is None else t_s

    def _is_due(self) -> bool:
        """Whether to ask now; once stopped, only for as long as there is something to send."""
        return self.now_s() + _TICK_S >= self._due_s and (self._stopped_by is None or self._outbox.unsent > 0)

    def _allow_until(self, stop_by_s: float) -> None:
        self._stop_by_s = stop_by_s
        self._contact.keep_until(self._start_s + stop_by_s)

    def _keep_deadline(self) -> None:
        if self._stopped_by is None and self.now_s() + _TICK_S >= self._stop_by_s:
            self._stop("deadline")

    def _stop(self, by: Literal["service", "deadline"]) -> None:
        self._contact.open()
        self._stopped_by = by
        self._outbox.power(min(self.now_s(), LATEST_S), 0.0)

    def _post(self) -> None:
        batch, restarts = self._outbox.batch(), self._restarts
        as_of_s = self._as_of_s(batch)
        try:
            reply = self._transport.post(self._body(batch, as_of_s), self._timeout_s())
            answer = answer_in(reply)
        except (Unreachable, NotAnswered) as error:
            self._try_again(str(error), error.retry_after_s if isinstance(error, NotAnswered) else None)
        except Refused as refused:
            if self._state is None or not refused.is_about_the_state:
                raise
            # The key that signed it is gone, perhaps with the server. The readings are all here.
            self._state, self._asked_s = None, 0.0
            self._outbox.begin_again()
            self._try_again(str(refused), None)
        else:
            self._trouble, self._failures = None, 0
            self._state, self._asked_s = answer.state, as_of_s
            self._outbox.answered(batch)
            # A part of what is kept says nothing about now, and what was asked before a restart nothing about after.
            if batch.is_all and restarts == self._restarts:
                self._take(answer)

    def _take(self, answer: Answer) -> None:
        self._answer = answer
        self._due_s = self.now_s() + min(max(answer.post_again_in_s, _SOONEST_S), _LATEST_AGAIN_S)
        if self._stopped_by is not None:
            return
        if answer.decision == "stop":
            self._stop_by_s = answer.stop_by_s
            self._stop("service")
        else:
            self._allow_until(answer.stop_by_s)

    def _try_again(self, trouble: str, asked_s: float | None) -> None:
        self._trouble = trouble
        self._failures += 1
        self._due_s = self.now_s() + self._manners.retry_in_s(self._failures, self._edge.chance(), asked_s)

    def _as_of_s(self, batch: Batch) -> float:
        """Now; but while more is to follow, the moment of the last answer, so that nothing is decided on a part."""
        return min(max(round(self.now_s(), 3), self._asked_s), LATEST_S) if batch.is_all else self._asked_s

    def _body(self, batch: Batch, as_of_s: float) -> bytes:
        head = self._head if self._state is None else {"state": self._state, **self._always}
        return json.dumps({**head, "as_of": as_of_s, "readings": batch.readings}).encode("ascii")

    def _timeout_s(self) -> float:
        """No reply is worth waiting for beyond the deadline."""
        if self._stopped_by is not None:
            return self._manners.timeout_s
        return max(min(self._manners.timeout_s, self._stop_by_s - self.now_s()), _LEAST_TIMEOUT_S)
