"""What is to be believed of the power: corn pops, and a bag steams, in no oven that is off.

Model. Pops end within moments when the heating does. Where a run of them (service.evidence.runs) begins more than
`popping_window_s` after the power was said to go off, the reading that says that it is on again has been lost, or there never
was one: it is on from that run on, at the level that it had, and where it never had one, from the beginning. Strays in a pause
are no run. Steam from a bag that was never said to be heated says the same.

Range. Off-periods longer than that window; a shorter one may be told late, and shifts little.
"""

from dataclasses import replace

import numpy as np

from service.evidence.moisture import MoistureNumbers, moisture_evidence
from service.evidence.runs import RunNumbers, run_of_pops
from service.readings.cook import NOTHING, Cook, read_only


def believed_power(cook: Cook, runs: RunNumbers, moisture: MoistureNumbers) -> Cook:
    """The same cook with the power as it must have been."""
    if not cook.power_ms.size or cook.power_permille.item(cook.power_permille.argmin()) > 0:
        return cook
    believed: list[tuple[int, int]] = []
    levels, began_ms = cook.power_permille.tolist(), cook.power_ms.tolist()
    for at_ms, until_ms, level in zip(began_ms, [*began_ms[1:], None], levels, strict=True):
        popped_ms = None if level else _popped_ms(cook, at_ms, until_ms, runs)
        believed.append((at_ms, level))
        if popped_ms is not None:
            had = next((earlier for _, earlier in reversed(believed) if earlier), None)
            believed = [] if had is None else [*believed, (popped_ms, had)]
    if not any(level for _, level in believed) and believed and _steams(cook, moisture):
        believed = []
    if len(believed) == len(levels):
        return cook
    if not believed:
        return replace(cook, power_ms=NOTHING, power_permille=NOTHING)
    power_ms, power_permille = np.array(believed, dtype=np.int32).T
    return replace(cook, power_ms=read_only(power_ms), power_permille=read_only(power_permille))


def _popped_ms(cook: Cook, began_ms: int, until_ms: int | None, numbers: RunNumbers) -> int | None:
    """The first pop of a run within a period that is said to be off; None where there is none."""
    listened_ms = began_ms + round(1000.0 * numbers.popping_window_s)
    first = int(cook.pops_ms.searchsorted(listened_ms))
    last = cook.pops_ms.size if until_ms is None else int(cook.pops_ms.searchsorted(until_ms))
    run = run_of_pops((cook.pops_ms[first:last] - listened_ms) / 1000.0, numbers)
    return None if run is None else int(cook.pops_ms[first + run])


def _steams(cook: Cook, numbers: MoistureNumbers) -> bool:
    steam = moisture_evidence(cook, numbers).steam
    return steam is not None and steam.onset_s is not None
