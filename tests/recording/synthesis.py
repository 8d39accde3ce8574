"""Made-up sound of a microwave oven with popcorn in it: pops at known times, a fan, the hum of the magnetron.

Nothing in it was recorded, and every number is invented. The detector does not share its assumptions: pops ring in
resonances of their own and echo in the room, the fan surges, the hum wanders in pitch and in strength and crackles.
Loudness is given in the band of 1.5 to 9 kHz, where a detector may look: pops as the mean power over their first 4 ms.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

FloatArray = NDArray[np.float64]

POP_RMS = 0.05
"""Of a pop of middling loudness, in the band; full scale is 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What is heard.

    Attributes:
        rate_hz: samples a second.
        duration_s: how long it goes on (s).
        pops_per_s: mean rate of pops, which come at random.
        snr_db: how far pops of middling loudness are above fan and hum together, in the band (dB).
        hum_share: share of the hum in the power of the two, in the band.
        mains_hz: the mains frequency (Hz).
        loudness_db: scatter of the loudness of pops (dB).
        echo_db: how far the echo of a pop begins below the pop (dB).
        echo_s: how long an echo takes to fall by 60 dB (s).
        magnetron_cycle_s: the hum comes and goes with this period, on for three quarters; None for always.
    """

    rate_hz: int = 44_100
    duration_s: float = 60.0
    pops_per_s: float = 5.0
    snr_db: float = 20.0
    hum_share: float = 0.4
    mains_hz: float = 60.0
    loudness_db: float = 3.5
    echo_db: float = 16.0
    echo_s: float = 0.25
    magnetron_cycle_s: float | None = None


def made(scene: Scene, seed: int) -> tuple[FloatArray, FloatArray]:
    """The sound, and the times of its pops (s)."""
    rng = np.random.default_rng([seed, round(scene.pops_per_s * 100.0), round(scene.snr_db), scene.rate_hz])
    count = round(scene.duration_s * scene.rate_hz)
    pops_s = np.sort(rng.uniform(0.3, scene.duration_s - 0.3, rng.poisson(scene.pops_per_s * (scene.duration_s - 0.6))))
    noise_power = POP_RMS**2 / 10.0 ** (scene.snr_db / 10.0)
    sound = np.sqrt(noise_power * (1.0 - scene.hum_share)) * fan(scene, count, rng)
    sound += np.sqrt(noise_power * scene.hum_share) * hum(scene, count, rng)
    for at_s in pops_s.tolist():
        _add(sound, round(at_s * scene.rate_hz), pop(scene, rng))
    return sound, pops_s


def in_band(sound: FloatArray, rate_hz: int) -> FloatArray:
    """What is left of a sound between 1.5 and 9 kHz."""
    sections = butter(4, (1500.0, min(9000.0, 0.45 * rate_hz)), "bandpass", fs=rate_hz, output="sos")
    filtered: FloatArray = sosfilt(sections, sound)
    return filtered


def pop(scene: Scene, rng: np.random.Generator) -> FloatArray:
    """One pop: a crack that rings in a few resonances, and its echo; its loudness is drawn."""
    length = round(1.2 * scene.echo_s * scene.rate_hz)
    t_s = np.arange(length) / scene.rate_hz
    attack = 1.0 - np.exp(-t_s / 0.0003)
    crack = rng.standard_normal(length) * np.exp(-t_s / rng.uniform(0.0015, 0.004))
    highest_hz = 0.42 * scene.rate_hz
    for _ in range(3):
        hz = min(rng.uniform(1200.0, 8000.0), highest_hz)
        crack += 1.5 * np.exp(-t_s / rng.uniform(0.002, 0.006)) * np.sin(2.0 * np.pi * (hz * t_s + rng.random()))
    echo = rng.standard_normal(length) * 10.0 ** (-3.0 * t_s / scene.echo_s - scene.echo_db / 20.0)
    echo[: round(0.004 * scene.rate_hz)] = 0.0
    whole = in_band(np.concatenate((np.zeros(64), attack * (crack + echo))), scene.rate_hz)[64:]
    first = whole[: round(0.004 * scene.rate_hz)]
    loudness = POP_RMS * 10.0 ** (rng.normal(0.0, scene.loudness_db) / 20.0)
    thump = 0.5 * np.exp(-t_s / 0.01) * np.sin(2.0 * np.pi * rng.uniform(80.0, 400.0) * t_s)
    return loudness * (whole / np.sqrt(np.mean(first**2)) + thump)


def fan(scene: Scene, count: int, rng: np.random.Generator) -> FloatArray:
    """Air, louder in the bass, that surges slowly, and the tone of the blades; power 1 in the band."""
    air = sosfilt(butter(1, 600.0, fs=scene.rate_hz, output="sos"), rng.standard_normal(count)) * 6.0
    air += 0.3 * rng.standard_normal(count)
    t_s = np.arange(count) / scene.rate_hz
    surge_db = 1.5 * np.sin(2.0 * np.pi * (rng.uniform(0.3, 1.5) * t_s + rng.random()))
    surge_db += 1.0 * np.sin(2.0 * np.pi * (rng.uniform(2.0, 5.0) * t_s + rng.random()))
    air *= 10.0 ** (surge_db / 20.0)
    blades_hz = rng.uniform(120.0, 350.0)
    for order in range(1, 5):
        air += 2.0 / order * np.sin(2.0 * np.pi * (blades_hz * order * t_s + rng.random()))
    return _at_power_1(air, scene.rate_hz)


def hum(scene: Scene, count: int, rng: np.random.Generator) -> FloatArray:
    """Harmonics of twice the mains, and a crackle once a mains period; power 1 in the band where it is on."""
    t_s = np.arange(count) / scene.rate_hz
    drift_hz = 0.03 * np.sin(2.0 * np.pi * (0.02 * t_s + rng.random())) + rng.uniform(-0.03, 0.03)
    turns = np.cumsum(scene.mains_hz + drift_hz) / scene.rate_hz
    sound = np.zeros(count)
    for order in range(1, 41):
        if 2.0 * order * scene.mains_hz < 0.42 * scene.rate_hz:
            sound += 3.0 / order**1.3 * np.sin(2.0 * np.pi * (2.0 * order * turns + rng.random()))
    # The crackle: the same short noise each period, a little stronger or weaker each time.
    width = round(0.0025 * scene.rate_hz)
    shape = rng.standard_normal(width) * np.hanning(width)
    for start in np.flatnonzero(np.diff(np.floor(turns)) > 0).tolist():
        _add(sound, start, rng.normal(1.0, 0.12) * shape)
    sound = _at_power_1(sound, scene.rate_hz)
    if scene.magnetron_cycle_s is not None:
        sound[np.mod(t_s, scene.magnetron_cycle_s) > 0.75 * scene.magnetron_cycle_s] *= 0.03
    return sound


def _add(sound: FloatArray, at: int, part: FloatArray) -> None:
    end = min(len(sound), at + len(part))
    sound[at:end] += part[: end - at]


def _at_power_1(sound: FloatArray, rate_hz: int) -> FloatArray:
    scaled: FloatArray = sound / np.sqrt(np.mean(in_band(sound, rate_hz) ** 2))
    return scaled
