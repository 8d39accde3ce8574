"""What the service is held beside in the bench is given a fair chance: each way comes to a stop of its own, and near the end."""

from tests.bench.alternatives import SENSES, play
from tests.bench.listeners import LISTENERS
from tests.cooks import simulated


def test_every_way_stops_a_regular_bag_near_its_end():
    cook = simulated("regular", 9000)
    played = play(cook)
    assert played.keys() == {(hears, name) for hears in SENSES for name in ("the service", *LISTENERS)}
    earliest_s, latest_s = cook.truth["stop_window_s"]
    for which, one in played.items():
        assert one.stop_s is not None, which
        assert earliest_s - 15.0 <= one.stop_s <= latest_s + 15.0, which
        assert len(one.took_us) > 10, which
