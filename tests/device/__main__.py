"""Pull the network out of many simulated cooks of the device's client: `python -m tests.device --cooks 100`.

Needs MicroPython; see tests/device/fetch_micropython.sh. Exits 1 where one went wrong.
"""

import sys
from argparse import ArgumentParser

from tests.client.pulled_out import OUT_S, STEP_S, cases
from tests.device.pulled_out import HEAP, micropython, outcome
from tests.device.serving import served


def main() -> int:
    """Play the cooks, print a line for each that went wrong and the figures of all."""
    parser = ArgumentParser(prog="python -m tests.device", description=__doc__)
    parser.add_argument("--cooks", type=int, default=100, help="how many cooks (100)")
    asked, interpreter = parser.parse_args(), micropython()
    if interpreter is None:
        parser.error("there is no micropython here")
    with served() as port:
        outcomes = [outcome(case, port, interpreter) for case in cases(asked.cooks)]
    late = [one for one in outcomes if one.stopped_s > one.deadline_s + STEP_S]
    lost = [one for one in outcomes if one.unsent or not one.same_evidence]
    for one in (*late, *lost):
        print(one)
    by_deadline = sum(one.stopped_by == "deadline" for one in outcomes)
    print(f"{len(outcomes)} cooks in a heap of {HEAP}, the network out for {OUT_S:g} s in each")
    print(f"stopped by the service {len(outcomes) - by_deadline}, by the device at its deadline {by_deadline}")
    print(f"stopped late {len(late)}; readings lost or doubled in {len(lost)}")
    print(f"most posts tried while it was out: {max(one.tries for one in outcomes)}")
    print(f"least heap left free: {min(one.least_free_bytes for one in outcomes)} bytes")
    return 1 if late or lost else 0


if __name__ == "__main__":
    sys.exit(main())
