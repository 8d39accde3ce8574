"""What an oven's own control follows: answered rightly where it can be, and left open where it cannot.

The long version, with many ovens, is `python -m tests.audit`.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from service.audit.control import Control, what_it_follows
from service.audit.numbers import audit_numbers
from service.audit.sizes import sizes_among
from service.audit.stop_cues import StopCues
from tests.audit.controls import CONTROLS, cues_of
from tests.calibration.one_oven import BagCooked, bag_in, drawn_oven

SIZES = ("snack", "regular", "jumbo")
OVENS = range(2)
COOKS = 8


@cache
def bags(oven: int) -> tuple[BagCooked, ...]:
    return tuple(bag_in(drawn_oven(oven), SIZES[cook % 3], 100 * oven + cook) for cook in range(COOKS))


@cache
def cues(control: str, oven: int) -> tuple[StopCues, ...]:
    _, ends = CONTROLS[control]
    return tuple(cues_of(bags(oven), ends(bags(oven), np.random.default_rng(oven))))


def alike(all_cues: Sequence[StopCues]) -> list[StopCues]:
    return [cue for cue in all_cues if cue.load_g == 46.0]


@pytest.mark.parametrize("control", CONTROLS)
def test_eight_cooks_of_three_sizes_tell_what_a_control_follows(control: str) -> None:
    """At most one of the ovens may be left open, and none judged wrongly."""
    truth, _ = CONTROLS[control]
    found = [what_it_follows(cues(control, oven)) for oven in OVENS]
    assert {one.follows for one in found} <= {truth, None}
    assert sum(one.follows == truth for one in found) >= len(OVENS) - 1


@pytest.mark.parametrize("control", CONTROLS)
def test_three_cooks_are_too_few(control: str) -> None:
    found = what_it_follows(cues(control, 0)[:3])
    assert (found.follows, found.confidence) == (None, "cannot say")
    assert "there are 3" in found.says
    assert found.more_cooks is None or found.more_cooks >= 1


@pytest.mark.parametrize("control", CONTROLS)
def test_bags_that_are_all_alike_settle_nothing(control: str) -> None:
    same = [cue for oven in OVENS for cue in alike(cues(control, oven))]
    found = what_it_follows(same)
    assert found.follows is None
    assert found.sizes == 1
    assert "one size" in found.says
    assert found.more_cooks != 0


def test_no_cook_at_all_is_an_answer() -> None:
    found = what_it_follows([])
    assert (found.follows, found.candidates, found.more_cooks) == (None, (), 4)


@pytest.mark.parametrize("control", CONTROLS)
def test_probabilities_are_shared_out_and_the_likeliest_comes_first(control: str) -> None:
    candidates = what_it_follows(cues(control, 1)).candidates
    chances = [one.probability for one in candidates]
    assert sum(chances) == pytest.approx(1.0)
    assert chances == sorted(chances, reverse=True)
    assert all(one.within_s >= 0.0 for one in candidates)


def test_the_order_of_the_cooks_does_not_matter() -> None:
    one, other = what_it_follows(cues("timer", 1)), what_it_follows(cues("timer", 1)[::-1])
    assert one.follows == other.follows
    assert [c.probability for c in one.candidates] == pytest.approx([c.probability for c in other.candidates], abs=1e-9)


def test_the_constant_of_a_timer_is_told() -> None:
    stops = [cue.stop_s for cue in cues("timer", 0)]
    found = what_it_follows(cues("timer", 0))
    assert f"{np.mean(stops):.0f} s" in found.says
    assert found.confidence == "almost certain"
    assert found.candidates[0].within_s < 1.0
    assert found.more_cooks == 0


def test_without_steam_and_sound_a_timer_is_still_found_out() -> None:
    """Bags of known sizes that all end at the same moment need no sensor; nothing is said of what was not seen."""
    deaf = [without_sensors(cue) for cue in cues("timer", 1)]
    found = what_it_follows(deaf)
    assert found.follows == "timer"
    assert {one.kind for one in found.candidates} == {"timer", "something-else"}


def test_where_nobody_said_the_sizes_one_time_for_all_bags_is_still_a_timer() -> None:
    stops_s = CONTROLS["timer"][1](bags(1), np.random.default_rng(1))
    found = what_it_follows(cues_of(bags(1), stops_s, says_setup=False))
    assert (found.follows, found.confidence) == ("timer", "almost certain")


@pytest.mark.parametrize("oven", OVENS)
def test_where_nobody_said_the_sizes_a_time_for_each_is_told_from_the_steam_by_its_closeness(oven: int) -> None:
    """Both grow with the bag, but only the times set for sizes are few."""
    for control in ("size-timer", "steam-ratio", "steam-seen"):
        truth, ends = CONTROLS[control]
        stops_s = ends(bags(oven), np.random.default_rng(oven))
        assert what_it_follows(cues_of(bags(oven), stops_s, says_setup=False)).follows in (truth, None)
    stops_s = CONTROLS["size-timer"][1](bags(oven), np.random.default_rng(oven))
    found = what_it_follows(cues_of(bags(oven), stops_s, says_setup=False))
    assert found.follows == "something-else"
    assert "few fixed times" in found.says


def test_a_ratio_that_goes_on_while_the_heating_is_off_is_told_from_one_of_heating() -> None:
    """The door was open for twenty seconds after the steam in every other cook, and the control went on counting."""
    paused = [
        replace(cue, heating_s=cue.heating_s - off_s, stop_u_s=cue.stop_u_s - off_s)
        for cue, off_s in zip(cues("steam-ratio", 0), (0.0, 20.0) * 4, strict=True)
    ]
    found = what_it_follows(paused)
    assert (found.follows, found.confidence) == ("steam", "almost certain")
    assert "times the time until steam" in found.says


def test_a_cook_that_was_ended_early_is_no_smaller_bag() -> None:
    """Nobody said the sizes, and one cook was stopped before its steam was seen, so that its silence seems to come sooner."""
    same = [replace(cue, load_g=None) for oven in OVENS for cue in alike(cues("timer", oven))][:6]
    first = same[0].sound
    assert first is not None
    early = replace(same[0], onset_s=None, onset_u_s=None, sound=replace(first, typical_s=first.typical_s * 0.6))
    assert sizes_among([early, *same[1:]], audit_numbers()) == sizes_among(same[1:], audit_numbers()) == 1


def test_where_no_steam_was_seen_the_sound_tells_of_sizes() -> None:
    dry = [replace(cue, load_g=None, onset_s=None, onset_u_s=None) for cue in cues("same-microphone", 0)]
    assert sizes_among(dry, audit_numbers()) >= 2
    assert sizes_among([without_sensors(cue) for cue in dry], audit_numbers()) == 0


def without_sensors(cue: StopCues) -> StopCues:
    return StopCues(
        stop_s=cue.stop_s,
        heating_s=cue.heating_s,
        stop_u_s=cue.stop_u_s,
        onset_s=None,
        onset_u_s=None,
        sound=None,
        load_g=cue.load_g,
    )


def settled(control: str, oven: int) -> Control:
    return what_it_follows(cues(control, oven))


def test_what_is_not_settled_asks_for_more_cooks_and_what_is_for_none() -> None:
    """The more is known, the fewer more cooks are asked for."""
    for control in CONTROLS:
        for oven in OVENS:
            found = settled(control, oven)
            sure = found.candidates[0].probability >= 0.99
            assert (found.more_cooks == 0) == sure
