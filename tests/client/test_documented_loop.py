"""The hub loop of the documentation, as it stands there."""

import inspect
import textwrap

import pytest

import service.client
from service.client import CookSession, Edge, GuardedContact, InProcess
from tests.client.kitchen import Clock
from tests.simulation import simulate
from tests.web.clients import client_with


def documented():
    """The lines between the double colon and the next paragraph that is not indented."""
    text = inspect.getdoc(service.client).partition("::\n")[2]
    lines = text.splitlines()
    ends = next(at for at, line in enumerate(lines) if line and not line.startswith(" "))
    return textwrap.dedent("\n".join(lines[:ends])).strip().splitlines()


class Sensors:
    """What a simulated cook's sensors read, as time passes on a clock of its own."""

    def __init__(self, clock, log):
        self.clock, self.began_s = clock, clock()
        self.pops = sorted(t for post in log for t in post["readings"].get("pops", ()))
        self.humidity = sorted(
            (
                (one["t"], one["rh_pct"], one.get("air_c"))
                for post in log
                for one in post["readings"].get("humidity", ())
            ),
        )

    def new_pops(self):
        now_s = self.clock() - self.began_s
        while self.pops and self.pops[0] <= now_s:
            yield now_s - self.pops.pop(0)

    def new_humidity(self):
        while self.humidity and self.humidity[0][0] <= self.clock() - self.began_s:
            yield self.humidity.pop(0)[1:]


class Oven:
    """Heats from when it is switched on until it is switched off."""

    def __init__(self, clock):
        self.clock, self.on_s, self.off_s = clock, [], []

    def switch_on(self):
        self.on_s.append(self.clock())

    def switch_off(self):
        self.off_s.append(self.clock())


@pytest.fixture
def hub():
    """The documented function, with the test's clock and service in place of the machine's and the network's."""
    clock = Clock()
    edge = Edge(clock=clock, wait=clock.wait, chance=lambda: 0.5)
    names = {
        "CookSession": lambda transport, **given: CookSession(transport, edge=edge, **given),
        "GuardedContact": lambda switch_off: GuardedContact(switch_off, clock),
        "OverNetwork": lambda url, key: InProcess(client_with(log_level="error"), key=key),
    }
    code = "\n".join(line for line in documented() if not line.startswith(("from ", "import ")))
    exec(compile(code, "documentation", "exec"), names)  # noqa: S102 (our own documentation)
    return clock, names["cook_a_bag"]


def test_whole_loop_is_twenty_lines():
    assert len([line for line in documented() if line]) <= 20


def test_loop_cooks_a_bag_and_stops_it_well(hub):
    clock, cook_a_bag = hub
    bag = simulate("regular", 27, network=False)
    oven, shown = Oven(clock), []
    cook_a_bag("http://hub", "key", oven, Sensors(clock, bag.log), shown.append)
    early_s, late_s = bag.truth["stop_window_s"]
    assert early_s - 5.0 <= oven.off_s[0] - oven.on_s[0] <= late_s + 5.0
    assert shown[-1].stopped_by == "service"
    assert shown[-1].trouble is None
