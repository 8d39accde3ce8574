"""Pull the network out of many simulated cooks: `python -m tests.client --cooks 100`. Exits 1 where one went wrong."""

import sys
from argparse import ArgumentParser

from tests.client.pulled_out import OUT_S, STEP_S, cases, outcome


def main() -> int:
    """Play the cooks, print a line for each that went wrong and the figures of all."""
    parser = ArgumentParser(prog="python -m tests.client", description=__doc__)
    parser.add_argument("--cooks", type=int, default=100, help="how many cooks (100)")
    outcomes = [outcome(case) for case in cases(parser.parse_args().cooks)]
    late = [one for one in outcomes if one.stopped_s > one.deadline_s + STEP_S]
    lost = [one for one in outcomes if one.unsent or not one.same_evidence]
    for one in (*late, *lost):
        print(one)
    by_deadline = sum(one.stopped_by == "deadline" for one in outcomes)
    print(f"{len(outcomes)} cooks, the network out for {OUT_S:g} s in each")
    print(f"stopped by the service {len(outcomes) - by_deadline}, by the session at its deadline {by_deadline}")
    print(f"stopped late {len(late)}; readings lost or doubled in {len(lost)}")
    print(f"most posts tried while it was out: {max(one.tries for one in outcomes)}")
    return 1 if late or lost else 0


if __name__ == "__main__":
    sys.exit(main())
