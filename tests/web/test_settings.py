"""What can be set from outside."""

from pathlib import Path

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


def test_every_limit_can_be_set():
    said = {name: value + 1 if name != "max_number_characters" else 20 for name, value in Settings().limits().items()}
    said["max_state_bytes"] += 100
    environ = {f"COOKSTOP_{name.upper()}": str(value) for name, value in said.items()}
    assert Settings.from_environment(environ) == Settings(**said)
    assert set(said) == {name for name in Settings.__dataclass_fields__ if name.startswith("max_")}


def test_words_are_read():
    environ = {
        "COOKSTOP_KEYS_FILE": "keys",
        "COOKSTOP_OPEN_TO_NETWORK": "Yes",
        "COOKSTOP_LOG_LEVEL": "warning",
        "COOKSTOP_LOG_FORMAT": "text",
    }
    assert Settings.from_environment(environ) == Settings(
        keys_file=Path("keys"), open_to_network=True, log_level="warning", log_format="text"
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
        ({"COOKSTOP_MAX_NUMBER_CHARACTERS": "4301"}, "COOKSTOP_MAX_NUMBER_CHARACTERS"),
        ({"COOKSTOP_MAX_READINGS_PER_COOK": "50000"}, "COOKSTOP_MAX_STATE_BYTES"),
        ({"COOKSTOP_OPEN_TO_NETWORK": "1"}, "COOKSTOP_OPEN_TO_NETWORK"),
        ({"COOKSTOP_LOG_LEVEL": "loud"}, "COOKSTOP_LOG_LEVEL"),
        ({"COOKSTOP_LOG_FORMAT": "xml"}, "COOKSTOP_LOG_FORMAT"),
    ],
)
def test_wrong_value_is_refused_by_name(environ, named):
    with pytest.raises(SettingsError, match=named):
        Settings.from_environment(environ)


def test_key_file_that_is_not_there_is_an_error(tmp_path):
    with pytest.raises(FileNotFoundError):
        Settings.from_environment({"COOKSTOP_STATE_KEYS_FILE": str(tmp_path / "nowhere")})
