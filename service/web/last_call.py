"""Stop letting connections in without cutting off those that wait already.

Closing a socket that listens resets every connection that no worker has accepted yet, and its client cannot tell whether
its post was taken. So before the server closes it, a filter turns away the packets that would begin new connections: these
clients try again by themselves, and meet the next server or nobody. Those who wait are not touched, and the workers
answer them until nobody waits.

The filter is a program of the classic Berkeley packet filter with one instruction (man 7 socket, SO_ATTACH_FILTER). It is
known to Linux, and some sandboxes do not permit it; elsewhere and there the server stops without it.
"""

import ctypes
import socket
import struct
import sys
from contextlib import suppress

# Not among the constants of the socket module: the number of every architecture that Linux has in common use.
_SO_ATTACH_FILTER = 26
# struct sock_filter: BPF_RET | BPF_K with 0, which keeps no byte of a packet.
_DROP_ALL = struct.pack("HBBI", 0x06, 0, 0, 0)


def let_nobody_in(listener: socket.socket) -> None:
    """Turn new connections away from a socket that listens; whoever was let in before is still there to be accepted."""
    if sys.platform != "linux" or listener.family not in (socket.AF_INET, socket.AF_INET6):
        return
    program = ctypes.create_string_buffer(_DROP_ALL)
    # struct sock_fprog: the number of instructions and where they are.
    with suppress(PermissionError):
        listener.setsockopt(socket.SOL_SOCKET, _SO_ATTACH_FILTER, struct.pack("HP", 1, ctypes.addressof(program)))
