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
    told = list(zip(cook.power_ms.tolist(), cook.power_permille.tolist(), strict=True))
    # That it is off still, as a meter tells it each second, begins no period of its own.
    told = [one for one, before in zip(told, [(0, 1), *told], strict=False) if one[1] or before[1]]
    believed: list[tuple[int, int]] = []
    is_refuted = False
    for (began_ms, level), (until_ms, _) in zip(told, [*told[1:], (None, 0)], strict=True):
        popped_ms = None if level else _popped_ms(cook, began_ms, until_ms, runs)
        believed.append((began_ms, level))
        if popped_ms is not None:
            is_refuted = True
            had = next((earlier for _, earlier in reversed(believed) if earlier), None)
            believed = [] if had is None else [*believed, (popped_ms, had)]
    if not is_refuted:
        if any(level for _, level in told) or not _steams(cook, moisture):
            return cook
        believed = []
    if not believed:
        return replace(cook, power_ms=NOTHING, power_permille=NOTHING)
    power_ms, power_permille = np.array(believed, dtype=np.int32).T
    return replace(cook, power_ms=read_only(power_ms), power_permille=read_only(power_permille))


def _popped_ms(cook: Cook, began_ms: int, until_ms: int | None, numbers: RunNumbers) -> int | None:
    """The first pop of a run within a period that is said to be off; None where there is none."""
    listened_ms = began_ms + round(1000.0 * numbers.popping_window_s)
    if until_ms is not None and until_ms <= listened_ms:
        return None
    first = int(cook.pops_ms.searchsorted(listened_ms))
    last = cook.pops_ms.size if until_ms is None else int(cook.pops_ms.searchsorted(until_ms))
    if last - first < numbers.popping_count:
        return None
    run = run_of_pops((cook.pops_ms[first:last] - listened_ms) / 1000.0, numbers)
    return None if run is None else int(cook.pops_ms[first + run])


def _steams(cook: Cook, numbers: MoistureNumbers) -> bool:
    steam = moisture_evidence(cook, numbers).steam
    return steam is not None and steam.onset_s is not None
