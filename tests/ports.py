"""Ports for servers of the tests."""

import secrets
import socket

LOOPBACK = "127.0.0.1"
# Below those that the kernel gives to whoever connects, one of which could take a server's while that starts anew.
LOWEST, PORTS = 20_000, 12_000


def free_port() -> int:
    """A port of this machine that nobody listens at."""
    while True:
        port = LOWEST + secrets.randbelow(PORTS)
        try:
            socket.create_server((LOOPBACK, port)).close()
        except OSError:
            continue
        return port
