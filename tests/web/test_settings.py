"""What can be set from outside."""

import pytest

from service.web.settings import Settings, SettingsError

KEYS = ("an old key that is 32 bytes long..", "a new key that is 32 bytes long...")


def test_nothing_set_is_the_defaults():
    assert Settings.from_environment({}) == Settings()


def test_keys_come_in_order_from_a_list_or_a_file(tmp_path):
    file = tmp_path / "keys"
    file.write_text("\n".join(KEYS) + "\n")
    expected = tuple(key.encode() for key in KEYS)
    assert Settings.from_environment({"COOKSTOP_STATE_KEYS": ", ".join(KEYS)}).state_keys == expected
    assert Settings.from_environment({"COOKSTOP_STATE_KEYS_FILE": str(file)}).state_keys == expected


def test_limits_are_read():
    environ = {
        "COOKSTOP_MAX_BODY_BYTES": "1000",
        "COOKSTOP_MAX_READINGS_PER_POST": "20",
        "COOKSTOP_MAX_READINGS_PER_COOK": "30",
        "COOKSTOP_MAX_STATE_CHARACTERS": "400",
    }
    assert Settings.from_environment(environ) == Settings(
        max_body_bytes=1000, max_readings_per_post=20, max_readings_per_cook=30, max_state_characters=400
    )


@pytest.mark.parametrize(
    ("environ", "named"),
    [
        ({"COOKSTOP_STATE_KEYS": "short"}, "state key 1"),
        ({"COOKSTOP_STATE_KEYS": f"{KEYS[0]},short"}, "state key 2"),
        ({"COOKSTOP_STATE_KEYS": KEYS[0], "COOKSTOP_STATE_KEYS_FILE": "keys"}, "not both"),
        ({"COOKSTOP_MAX_BODY_BYTES": "0"}, "COOKSTOP_MAX_BODY_BYTES"),
        ({"COOKSTOP_MAX_BODY_BYTES": "256 KiB"}, "COOKSTOP_MAX_BODY_BYTES"),
        ({"COOKSTOP_MAX_READINGS_PER_POST": "-1"}, "COOKSTOP_MAX_READINGS_PER_POST"),
        ({"COOKSTOP_MAX_STATE_CHARACTERS": "1e5"}, "COOKSTOP_MAX_STATE_CHARACTERS"),
    ],
)
def test_wrong_value_is_refused_by_name(environ, named):
    with pytest.raises(SettingsError, match=named):
        Settings.from_environment(environ)


def test_key_file_that_is_not_there_is_an_error(tmp_path):
    with pytest.raises(FileNotFoundError):
        Settings.from_environment({"COOKSTOP_STATE_KEYS_FILE": str(tmp_path / "nowhere")})
