"""How well pops are heard in made-up sound: `python -m tests.recording`. Takes some minutes; fewer with less of it."""

from argparse import ArgumentParser
from dataclasses import replace

import numpy as np

from tests.recording.scoring import Score, score
from tests.recording.synthesis import Scene

RATES = (1.0, 2.0, 5.0, 10.0, 20.0)
LOUDNESSES_DB = (30.0, 20.0, 14.0, 10.0)
QUIET = {
    "mostly fan": Scene(pops_per_s=0.0, hum_share=0.1),
    "fan and hum, 60 Hz": Scene(pops_per_s=0.0, hum_share=0.5),
    "fan and hum, 50 Hz": Scene(pops_per_s=0.0, hum_share=0.5, mains_hz=50.0),
    "mostly hum, 60 Hz": Scene(pops_per_s=0.0, hum_share=0.9),
    "hum that comes and goes": Scene(pops_per_s=0.0, hum_share=0.9, magnetron_cycle_s=12.0),
    "16,000 samples a second": Scene(pops_per_s=0.0, hum_share=0.5, rate_hz=16_000),
    "8,000 samples a second": Scene(pops_per_s=0.0, hum_share=0.5, rate_hz=8_000),
}
OTHER = {
    "long loud echo, 5/s": Scene(echo_db=8.0, echo_s=0.5),
    "hum that comes and goes, 5/s": Scene(magnetron_cycle_s=12.0),
    "16,000 samples a second, 5/s": Scene(rate_hz=16_000),
    "8,000 samples a second, 5/s": Scene(rate_hz=8_000),
}


def main() -> None:
    """Print the tables."""
    parser = ArgumentParser(prog="python -m tests.recording", description=__doc__)
    parser.add_argument(
        "--seconds", type=float, default=60.0, help="length of each sound with pops; three times that without (60)"
    )
    seconds = parser.parse_args().seconds
    print("Pops heard of all that there were, and of those that can be told apart; false alarms a minute; lateness\n")
    print(f"{'':<30}{'above noise':>12}{'pops':>7}{'heard':>9}{'apart':>9}{'false/min':>11}{'late':>15}")
    for rate in RATES:
        for loudness_db in LOUDNESSES_DB:
            scene = Scene(pops_per_s=rate, snr_db=loudness_db, duration_s=seconds)
            print(row(f"{rate:g} pops a second", scene, score(scene, 1)), flush=True)
    for title, scene in OTHER.items():
        print(row(title, scene, score(replace(scene, duration_s=seconds), 1)), flush=True)
    print(f"\nFalse alarms without a single pop, {3.0 * seconds:g} s each")
    for title, scene in QUIET.items():
        print(
            f"{title:<30}{score(replace(scene, duration_s=3.0 * seconds), 1).false_per_min:>8.2f} a minute", flush=True
        )


def row(title: str, scene: Scene, seen: Score) -> str:
    """One line of the table."""
    late_ms = 1000.0 * np.array(seen.late_s)
    lateness = f"{np.mean(late_ms):+.1f} ± {np.std(late_ms):.1f} ms" if late_ms.size else ""
    return (
        f"{title:<30}{scene.snr_db:>9g} dB{seen.pops:>7}{seen.detected:>9.1%}{seen.detected_apart:>9.1%}"
        f"{seen.false_per_min:>11.1f}{lateness:>15}"
    )


if __name__ == "__main__":
    main()
