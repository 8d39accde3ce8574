"""Whoever was let in is heard, whoever comes after is not let in."""

import socket
import sys

import pytest

from service.web.last_call import let_nobody_in

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="only Linux has such filters")


@pytest.mark.parametrize("host", ["127.0.0.1", "::1"])
def test_those_who_wait_are_still_there_and_newcomers_are_not(host):
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.create_server((host, 0), family=family) as listener:
        address = listener.getsockname()[:2]
        with socket.create_connection(address) as waiting:
            waiting.sendall(b"sent before the last call, ")
            let_nobody_in(listener)
            waiting.sendall(b"and after it")
            waiting.shutdown(socket.SHUT_WR)
            with pytest.raises(TimeoutError):
                socket.create_connection(address, timeout=0.2)
            accepted, _ = listener.accept()
            with accepted, accepted.makefile("rb") as heard:
                assert heard.read() == b"sent before the last call, and after it"


def test_socket_of_another_family_is_left_as_it_is(tmp_path):
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind(str(tmp_path / "socket"))
        listener.listen()
        let_nobody_in(listener)
        with socket.socket(socket.AF_UNIX) as newcomer:
            newcomer.connect(str(tmp_path / "socket"))
            newcomer.sendall(b"let in")
            accepted, _ = listener.accept()
            with accepted:
                assert accepted.recv(16) == b"let in"


def test_where_filters_are_not_permitted_the_socket_is_left_as_it_is():
    with socket.create_server(("127.0.0.1", 0)) as listener:
        # SO_LOCK_FILTER: from here on the kernel refuses any filter for this socket.
        listener.setsockopt(socket.SOL_SOCKET, 44, 1)
        let_nobody_in(listener)
        with socket.create_connection(listener.getsockname(), timeout=5.0):
            accepted, newcomer = listener.accept()
            accepted.close()
            assert newcomer[0] == "127.0.0.1"
