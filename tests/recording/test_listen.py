"""`cookstop listen` turns a recording into a log that can be replayed."""

import json
import sys
import wave

import numpy as np
import pytest
from click.testing import CliRunner
from scipy.io import wavfile

from service.client import in_process
from service.commands.listen import listen
from service.recording.sound import SoundError, opened
from service.replaying import replayed
from tests.recording.scoring import matched
from tests.recording.synthesis import Scene, made

RATE_HZ = 16_000


@pytest.fixture(scope="module")
def recording(tmp_path_factory):
    """Twelve seconds and a half, with its pops."""
    sound, pops_s = made(Scene(duration_s=12.5, rate_hz=RATE_HZ), 1)
    path = tmp_path_factory.mktemp("recording") / "cook.wav"
    wavfile.write(path, RATE_HZ, np.round(sound * 20_000.0).astype(np.int16))
    return path, pops_s


def listened(*arguments):
    return CliRunner().invoke(listen, [str(argument) for argument in arguments])


def posts(told):
    return [json.loads(line) for line in told.stdout.splitlines()]


def test_log_has_a_post_for_each_second_and_the_pops_of_that_second(recording):
    path, pops_s = recording
    told = listened(path)
    assert told.exit_code == 0, told.stderr
    log = posts(told)
    assert [post["as_of"] for post in log] == [*map(float, range(1, 13)), 12.5]
    assert (log[0]["program"], log[0]["setup"]["sensors"]) == ("popcorn", ["acoustic"])
    assert all(set(post) == {"as_of", "readings"} for post in log[1:])
    assert all(post["as_of"] - 1.0 <= t <= post["as_of"] for post in log for t in post["readings"]["pops"])
    pops = [t for post in log for t in post["readings"]["pops"]]
    assert len(pops) == pytest.approx(len(pops_s), rel=0.1)


def test_log_can_be_replayed(recording):
    path, pops_s = recording
    answers = list(replayed(listened(path).stdout.encode().splitlines(), in_process()))
    assert not any(answer.refused for answer in answers)
    assert answers[-1].document["evidence"]["acoustic"]["pops"] == pytest.approx(len(pops_s), rel=0.1)


def test_output_goes_to_a_file_and_the_summary_to_the_screen(recording, tmp_path):
    file = tmp_path / "readings.ndjson"
    told = listened(recording[0], "--output", file)
    assert told.stdout == ""
    assert file.read_text() == listened(recording[0]).stdout
    assert "pops in 12.5 s" in told.stderr
    assert "8 ms" in told.stderr


def test_document_tells_certainties_and_the_dead_time(recording):
    path, pops_s = recording
    document = json.loads(listened(path, "--format", "document").stdout)
    assert document["recording"] == {"duration_s": 12.5, "rate_hz": RATE_HZ}
    assert document["dead_time_s"] == 0.008
    assert document["mains_hz"] == [60.0]
    assert all(0.5 <= pop["certainty"] <= 1.0 for pop in document["pops"])
    assert len(document["pops"]) == pytest.approx(len(pops_s), rel=0.1)


def test_what_is_uncertain_can_be_left_out(recording):
    certain = json.loads(listened(recording[0], "--format", "document", "--certainty", "0.99").stdout)["pops"]
    every = json.loads(listened(recording[0], "--format", "document", "--certainty", "0").stdout)["pops"]
    assert 0 < len(certain) < len(every)
    assert [pop for pop in every if pop["certainty"] >= 0.99] == certain


def test_cook_may_start_later_than_the_recording(recording):
    pops = [t for post in posts(listened(recording[0])) for t in post["readings"]["pops"]]
    later = posts(listened(recording[0], "--starts", "4.5"))
    assert later[-1]["as_of"] == 8.0
    assert [t for post in later for t in post["readings"]["pops"]] == [
        pytest.approx(t - 4.5, abs=1e-6) for t in pops if t >= 4.5
    ]


def test_what_is_known_goes_into_the_log(recording):
    log = posts(listened(recording[0], "--setup", '{"load_g": 85, "oven": {"duty_cycle": 0.7}}'))
    assert log[0]["setup"] == {
        "sensors": ["acoustic"],
        "load_g": 85,
        "oven": {"dead_time_s": 0.008, "duty_cycle": 0.7},
    }


def _written(path, kind, sound):
    if kind == "24 bits":
        with wave.open(str(path), "wb") as file:
            file.setparams((1, 3, RATE_HZ, 0, "NONE", ""))
            whole = np.round(sound * 2.0**22).astype("<i4")
            file.writeframes(whole.view(np.uint8).reshape(-1, 4)[:, :3].tobytes())
        return
    form = {
        "8 bits": lambda: np.clip(np.round(sound * 120.0 + 128.0), 0, 255).astype(np.uint8),
        "16 bits": lambda: np.round(sound * 20_000.0).astype(np.int16),
        "32 bits": lambda: np.round(sound * 1e9).astype(np.int32),
        "floating point": lambda: sound.astype(np.float32),
        "two channels": lambda: np.round(np.column_stack((sound, 0.8 * sound)) * 20_000.0).astype(np.int16),
    }[kind]()
    wavfile.write(path, RATE_HZ, form)


@pytest.mark.parametrize("kind", ["8 bits", "16 bits", "24 bits", "32 bits", "floating point", "two channels"])
def test_every_common_kind_of_file_sounds_the_same(tmp_path, kind):
    sound, pops_s = made(Scene(duration_s=4.0, rate_hz=RATE_HZ, snr_db=30.0), 7)
    path = tmp_path / "cook.wav"
    _written(path, kind, 4.0 * sound)
    document = json.loads(listened(path, "--format", "document").stdout)

    class At:
        def __init__(self, t_s):
            self.t_s = t_s

    which = matched([At(pop["t"]) for pop in document["pops"]], pops_s)
    assert which.count(None) == 0
    assert len(which) >= 0.9 * len(pops_s)


def test_long_recording_is_not_held_in_memory(tmp_path):
    path = tmp_path / "cook.wav"
    wavfile.write(path, RATE_HZ, np.zeros(RATE_HZ * 60, dtype=np.int16))
    assert isinstance(opened(path).samples, np.memmap)


@pytest.mark.parametrize(
    "content", [b"", b"RIFF", b"no sound at all, but a letter to somebody", b"RIFF\x24\0\0\0WAVEfmt "]
)
def test_file_that_is_no_recording_is_told(tmp_path, content):
    path = tmp_path / "cook.wav"
    path.write_bytes(content)
    told = listened(path)
    assert told.exit_code == 1
    assert "not a WAV file" in told.stderr


def test_recording_that_is_too_coarse_or_empty_or_too_short_is_told(tmp_path, recording):
    path = tmp_path / "cook.wav"
    wavfile.write(path, 4000, np.zeros(100, dtype=np.int16))
    with pytest.raises(SoundError, match="8000 samples a second"):
        opened(path)
    wavfile.write(path, RATE_HZ, np.zeros(0, dtype=np.int16))
    with pytest.raises(SoundError, match="no sound"):
        opened(path)
    told = listened(recording[0], "--starts", "60")
    assert told.exit_code == 1
    assert "ends after 12.5 s" in told.stderr


@pytest.mark.parametrize("setup", ["{", "[]", '{"oven": 3}'])
def test_setup_that_is_none_is_told(recording, setup):
    told = listened(recording[0], "--setup", setup)
    assert told.exit_code == 2
    assert "--setup" in told.stderr


def test_missing_extra_is_told(recording, monkeypatch):
    for name in [name for name in sys.modules if name.startswith("service.recording")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "scipy.io", None)
    monkeypatch.setitem(sys.modules, "scipy.signal", None)
    told = listened(recording[0])
    assert told.exit_code == 1
    assert ".[recording]" in told.stderr
