"""Who can reach the service from where it listens, and whether it may start there.

On this machine alone it answers whoever asks, under a key for the state that it may have made up. Where other machines
can reach it, callers need keys unless the opposite was said in so many words, and the state needs keys that outlive the
start: a cook may go on at another server.
"""

import ipaddress
from collections.abc import Iterable

from service.web.settings import Settings, SettingsError


def refuse_exposure(hosts: Iterable[str], settings: Settings) -> None:
    """Raise SettingsError when the service must not listen at one of these, names or addresses."""
    exposed = [host for host in hosts if not is_this_machine(host)]
    if not exposed:
        return
    reach = f"{exposed[0]} can be reached from other machines"
    if settings.keys_file is None and not settings.open_to_network:
        raise SettingsError(
            f"{reach}, where whoever asks would be answered: set COOKSTOP_KEYS_FILE (`cookstop key` makes one),"
            " or say --open-to-network or COOKSTOP_OPEN_TO_NETWORK=yes"
        )
    if not settings.state_keys:
        raise SettingsError(
            f"{reach}, so the state needs keys that stay: set COOKSTOP_STATE_KEYS_FILE or COOKSTOP_STATE_KEYS"
        )


def is_this_machine(host: str) -> bool:
    """Whether nothing but this machine can reach a service that listens there."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
