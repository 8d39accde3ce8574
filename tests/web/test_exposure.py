"""Where the service may listen, with what."""

from pathlib import Path

import pytest

from service.web.exposure import is_this_machine, refuse_exposure
from service.web.settings import Settings, SettingsError

STATE_KEYS = (b"a key for tests, of 32 bytes or more",)
KEYS = {"keys_file": Path("keys"), "state_keys": STATE_KEYS}
OPEN = {"open_to_network": True, "state_keys": STATE_KEYS}


@pytest.mark.parametrize("host", ["127.0.0.1", "127.1.2.3", "::1", "localhost"])
def test_this_machine_needs_nothing(host):
    assert is_this_machine(host)
    refuse_exposure([host], Settings())


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.1", "example.org", ""])  # noqa: S104 (that is the point)
@pytest.mark.parametrize(
    ("said", "missing"),
    [
        ({}, "COOKSTOP_KEYS_FILE"),
        ({"state_keys": STATE_KEYS}, "COOKSTOP_OPEN_TO_NETWORK=yes"),
        ({"keys_file": Path("keys")}, "COOKSTOP_STATE_KEYS_FILE"),
        ({"open_to_network": True}, "COOKSTOP_STATE_KEYS_FILE"),
        (KEYS, None),
        (OPEN, None),
    ],
)
def test_other_machines_need_keys_for_the_callers_and_for_the_state(host, said, missing):
    if missing is None:
        refuse_exposure(["127.0.0.1", host], Settings(**said))
        return
    with pytest.raises(SettingsError, match=missing):
        refuse_exposure(["127.0.0.1", host], Settings(**said))
