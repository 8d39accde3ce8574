"""What may go wrong while cooks go on, in short: the commands beside this file do the same for longer."""

import socket

import pytest

from service.web.last_call import let_nobody_in
from tests.deploy.front import NGINX
from tests.deploy.kill_workers import killing
from tests.deploy.load import Load
from tests.deploy.processes import LOOPBACK
from tests.deploy.slow_clients import compared
from tests.deploy.soak import slope_per_hour
from tests.deploy.stop_under_load import alone, behind_the_front

needs_nginx = pytest.mark.skipif(NGINX is None, reason="nginx is not installed: nothing can stand before the servers")
# Machines of tests are busy: what a lone slow post takes there says nothing about the front.
NOISE_MS = 400.0


def permitted() -> bool:
    """Whether this system lets this user attach a filter to a socket, which not every one does for any but root."""
    with socket.create_server((LOOPBACK, 0)) as listener:
        let_nobody_in(listener)
        try:
            socket.create_connection(listener.getsockname(), timeout=0.2).close()
        except TimeoutError:
            return True
    return False


def unharmed(load: Load) -> bool:
    """Whether every cook came to its end, with the answers of an undisturbed server."""
    return load.cooks > 0 and not load.wrong and not load.lost


def test_workers_that_are_killed_lose_no_cook() -> None:
    load, killed = killing(5.0)
    assert killed >= 3
    assert unharmed(load)


@needs_nginx
def test_servers_that_are_stopped_behind_the_front_lose_no_post() -> None:
    load, statuses = behind_the_front(3.0)
    assert statuses
    assert set(statuses) == {0}
    assert unharmed(load)
    assert load.retries == 0


def test_server_that_is_stopped_alone_loses_no_cook_and_breaks_off_no_post_where_filters_are_permitted() -> None:
    load, statuses = alone(1.0)
    assert set(statuses) == {0}
    assert unharmed(load)
    if permitted():
        assert load.broken == 0


@needs_nginx
def test_clients_that_drip_do_not_hold_up_the_others() -> None:
    without, beside, held = compared(seconds=1.5, turns=1, slow=50)
    assert unharmed(without)
    assert unharmed(beside)
    assert held == 50, "the slow ones were hung up on, and slowed nobody"
    assert beside.percentile_ms(0.99) < 2.0 * without.percentile_ms(0.99) + NOISE_MS


def test_growth_of_memory_is_told_by_the_hour() -> None:
    assert slope_per_hour([(0.0, 50.0), (60.0, 51.0), (120.0, 52.0)]) == pytest.approx(60.0)
