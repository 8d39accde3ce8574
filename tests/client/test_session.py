"""One cook through a session, against a service that answers what the test wants."""

import pytest

from service.client import CookSession, Manners, Refused, Unreachable
from service.client.outbox import MOST_IN_A_POST
from tests.client.kitchen import Clock, NotingContact, Script, asked, decision, problem, service

MANNERS = Manners(timeout_s=4.0, unanswered_s=30.0, first_retry_s=0.25, most_retry_s=4.0)


class Kitchen:
    """A session over a script, with its clock and its contact."""

    def __init__(self, *replies, **options):
        self.clock = Clock()
        self.service = Script(list(replies))
        self.contact = NotingContact(self.clock)
        options = {"program": "popcorn", "manners": MANNERS, **options}
        self.cook = CookSession(self.service, contact=self.contact, edge=self.clock.edge(), **options)

    def run(self, for_s, step_s=0.1):
        """Poll for so long."""
        until_s = self.clock() + for_s
        while self.clock() < until_s:
            standing = self.cook.poll()
            self.clock.wait(step_s)
        return standing


def test_first_post_names_programme_and_setup_and_later_ones_bring_the_state():
    kitchen = Kitchen(decision(state="one"), decision(state="two"), setup={"load_g": 85.0})
    kitchen.run(1.5)
    first, second = kitchen.service.posts
    assert first == {"program": "popcorn", "setup": {"load_g": 85.0}, "as_of": 0.0, "readings": {}}
    assert second == {"state": "one", "as_of": pytest.approx(1.0, abs=0.11), "readings": {}}


def test_each_reading_is_sent_once_when_all_goes_well():
    kitchen = Kitchen(decision())
    kitchen.cook.pop(0.5)
    kitchen.cook.humidity(45.0, 22.0, 0.6)
    kitchen.cook.humidity(45.5, t_s=0.7)
    kitchen.cook.power(0.5, 0.0)
    kitchen.run(2.5)
    first, *others = [post["readings"] for post in kitchen.service.posts]
    assert first == {
        "pops": [0.5],
        "humidity": [{"t": 0.6, "rh_pct": 45.0, "air_c": 22.0}, {"t": 0.7, "rh_pct": 45.5}],
        "power": [{"t": 0.0, "level": 0.5}],
    }
    assert others == [{}, {}]


def test_reading_without_a_time_was_made_just_now():
    kitchen = Kitchen(decision())
    kitchen.clock.wait(3.25)
    kitchen.cook.pop()
    kitchen.cook.poll()
    assert kitchen.service.posts[0]["readings"] == {"pops": [3.25]}


def test_it_asks_as_often_as_the_service_finds_worth_while():
    assert len(asks(again_s=2.0, for_s=9.0)) == 5
    assert len(asks(again_s=0.5, for_s=9.8)) == 20


def test_it_asks_neither_all_the_time_nor_never_whatever_it_is_told():
    assert len(asks(again_s=0.0, for_s=2.0, step_s=0.01)) <= 21
    assert len(asks(again_s=1e9, for_s=25.0)) == 3


def asks(again_s, for_s, step_s=0.05):
    kitchen = Kitchen(decision(post_again_in_s=again_s))
    kitchen.run(for_s, step_s)
    return kitchen.service.posts


def test_stop_opens_the_contact_and_ends_the_asking():
    kitchen = Kitchen(decision(), decision("stop", stop_by_s=1.0))
    standing = kitchen.run(10.0)
    assert (standing.decision, standing.stopped_by, standing.stop_by_s) == ("stop", "service", 1.0)
    assert not kitchen.cook.goes_on()
    assert kitchen.contact.opened_s == [pytest.approx(1001.0, abs=0.11)]
    # One more post tells that the power is off; nothing is asked after that.
    assert [post["readings"].get("power") for post in kitchen.service.posts[2:]] == [
        [{"t": pytest.approx(1.0, abs=0.11), "level": 0.0}]
    ]


def test_contact_is_held_until_the_deadline_of_each_answer():
    kitchen = Kitchen(decision(stop_by_s=60.0), decision(stop_by_s=45.0), decision(stop_by_s=50.0))
    kitchen.run(2.5)
    assert kitchen.contact.until_s == [1030.0, 1060.0, 1045.0, 1050.0]


def test_oven_heats_only_so_long_on_which_the_service_never_said_a_word():
    kitchen = Kitchen(problem(503, "unavailable"))
    standing = kitchen.run(40.0)
    assert standing.stopped_by == "deadline"
    assert kitchen.contact.opened_s == [pytest.approx(1030.0, abs=0.1)]


def test_no_reply_is_awaited_beyond_the_deadline():
    kitchen = Kitchen(decision(stop_by_s=5.0))
    kitchen.run(10.0)
    asked_s = [post["as_of"] for post in kitchen.service.posts[:-1]]
    waited_s = kitchen.service.timeouts_s[1 : len(asked_s)]
    assert all(at_s + timeout_s <= 5.05 for at_s, timeout_s in zip(asked_s[1:], waited_s, strict=True))
    assert kitchen.service.timeouts_s[0] == 4.0


def test_leaving_opens_the_contact_however_it_is_left():
    kitchen = Kitchen(decision())
    with pytest.raises(KeyError), kitchen.cook:
        raise KeyError("a defect of the hub")
    assert kitchen.contact.opened_s == [1000.0]


@pytest.mark.parametrize("status", [400, 401, 403, 404, 413, 415, 422])
def test_wrong_post_is_told_and_not_tried_again(status):
    kitchen = Kitchen(problem(status))
    with pytest.raises(Refused, match="said by the test") as told:
        kitchen.cook.poll()
    assert told.value.status == status
    assert len(kitchen.service.posts) == 1


@pytest.mark.parametrize(
    "passing",
    [problem(429, "too-many-requests"), problem(503, "unavailable"), problem(500, "internal"), problem(502)],
    ids=["429", "503", "500", "502"],
)
def test_passing_failure_is_tried_again_and_the_readings_with_it(passing):
    kitchen = Kitchen(passing, passing, decision())
    kitchen.cook.pop(0.1)
    standing = kitchen.run(1.5)
    assert [post["readings"] for post in kitchen.service.posts[:3]] == [{"pops": [0.1]}] * 3
    assert (standing.trouble, standing.unsent) == (None, 0)


def test_readings_made_meanwhile_go_with_the_next_try():
    kitchen = Kitchen(problem(503), decision())
    kitchen.cook.pop(0.1)
    kitchen.cook.poll()
    kitchen.cook.pop(0.2)
    kitchen.run(1.0)
    assert kitchen.service.posts[1]["readings"] == {"pops": [0.1, 0.2]}


@pytest.mark.parametrize("status", [429, 503])
def test_retry_after_is_kept(status):
    kitchen = Kitchen(problem(status, retry_after_s=7.0), decision())
    kitchen.run(6.95)
    assert len(kitchen.service.posts) == 1
    kitchen.run(0.5)
    assert len(kitchen.service.posts) == 2


def test_deadline_holds_whatever_retry_after_says():
    kitchen = Kitchen(decision(stop_by_s=20.0), problem(503, retry_after_s=3600.0))
    standing = kitchen.run(30.0)
    assert standing.stopped_by == "deadline"
    assert kitchen.contact.opened_s == [pytest.approx(1020.0, abs=0.1)]


def test_tries_are_few_however_long_nothing_answers():
    kitchen = Kitchen(problem(503))
    kitchen.run(600.0)
    assert len(kitchen.service.posts) <= 600.0 / (0.75 * 4.0) + 6


def test_something_else_that_answers_is_no_service():
    kitchen = Kitchen(*(reply for reply in NO_SERVICE), decision())
    for said in NO_SERVICE:
        kitchen.run(4.0, step_s=4.0)
        assert kitchen.cook.standing.decision == "continue", said
        assert "is this the service?" in (kitchen.cook.standing.trouble or ""), said
    assert kitchen.run(5.0).trouble is None


NO_SERVICE = [
    decision("maybe"),
    decision(stop_by_s=None),
    decision(stop_by_s=1e5),
    decision(stop_by_s=True),
    decision(state=None),
    decision(post_again_in_s=-1.0),
]


def test_state_that_is_no_longer_taken_is_let_go_and_the_whole_cook_sent():
    kitchen = Kitchen(decision(state="old"), problem(422, "wrong-state"), decision(state="new"))
    kitchen.cook.pop(0.1)
    kitchen.cook.poll()
    kitchen.cook.pop(0.9)
    kitchen.run(2.0)
    _, refused, again, *_ = kitchen.service.posts
    assert (refused["state"], refused["readings"]) == ("old", {"pops": [0.9]})
    assert (again["program"], again["readings"]) == ("popcorn", {"pops": [0.1, 0.9]})
    assert "state" not in again


def test_refused_whole_cook_is_told():
    kitchen = Kitchen(decision(), problem(422, "wrong-state"))
    kitchen.cook.poll()
    with pytest.raises(Refused):
        kitchen.run(5.0)
    assert len(kitchen.service.posts) == 3


def test_restart_takes_a_stop_back_until_the_service_says_otherwise():
    kitchen = Kitchen(decision("stop", stop_by_s=0.0), decision(), decision(stop_by_s=35.0))
    kitchen.cook.power(0.6, 0.0)
    kitchen.run(5.0)
    kitchen.cook.restart()
    assert kitchen.cook.goes_on()
    kitchen.cook.poll()
    assert kitchen.service.posts[-1]["readings"] == {
        "restarts": [pytest.approx(5.0, abs=0.11)],
        "power": [{"t": pytest.approx(5.0, abs=0.11), "level": 0.6}],
    }
    assert kitchen.contact.until_s[-2:] == [pytest.approx(1035.0, abs=0.11), 1035.0]


def test_answer_to_what_was_asked_before_a_restart_does_not_end_it():
    kitchen = Kitchen(decision("stop", stop_by_s=0.0), decision("stop", stop_by_s=0.0), decision())

    class Slow(Script):
        def post(self, body, timeout_s):
            reply = super().post(body, timeout_s)
            if len(self.posts) == 2:
                cook.restart()
            return reply

    slow = Slow(kitchen.service.replies)
    cook = CookSession(slow, program="popcorn", contact=kitchen.contact, edge=kitchen.clock.edge())
    cook.poll()
    cook.pop(0.0)
    kitchen.clock.wait(2.0)
    cook.poll()
    assert cook.goes_on()
    cook.poll()
    assert "restarts" in slow.posts[-1]["readings"]


def test_more_than_a_post_takes_goes_in_parts_that_decide_nothing():
    kitchen = Kitchen(decision("stop", stop_by_s=0.0), decision("continue", stop_by_s=60.0))
    kitchen.clock.wait(10.0)
    for at in range(MOST_IN_A_POST + 5):
        kitchen.cook.pop(at / 1000.0)
    kitchen.cook.poll()
    assert kitchen.cook.goes_on()
    assert kitchen.service.posts[0]["as_of"] == 0.0
    standing = kitchen.cook.poll()
    assert [len(post["readings"]["pops"]) for post in kitchen.service.posts] == [MOST_IN_A_POST, 5]
    assert kitchen.service.posts[1]["as_of"] == 10.0
    assert (standing.decision, standing.unsent) == ("continue", 0)


def test_delivering_ends_in_time_when_nothing_answers():
    kitchen = Kitchen(problem(503))
    kitchen.cook.pop(0.1)
    assert not kitchen.cook.deliver(12.0)
    assert 1012.0 <= kitchen.clock() <= 1012.2
    assert kitchen.cook.standing.unsent == 1


def test_waiting_ends_where_there_is_something_to_do():
    kitchen = Kitchen(decision(post_again_in_s=2.0, stop_by_s=3.0))
    kitchen.cook.poll()
    kitchen.cook.wait(60.0)
    assert kitchen.clock() == pytest.approx(1002.0)
    kitchen.cook.poll()
    kitchen.cook.wait(60.0)
    assert kitchen.clock() == pytest.approx(1003.0)


@pytest.mark.parametrize(
    "put",
    [
        lambda cook: cook.pop(float("nan")),
        lambda cook: cook.pop(-1.0),
        lambda cook: cook.pop(7201.0),
        lambda cook: cook.humidity(100.5),
        lambda cook: cook.humidity(45.0, float("inf")),
        lambda cook: cook.power(1.5),
        lambda cook: cook.restart(-0.5),
    ],
)
def test_impossible_reading_is_refused_at_once_and_spoils_nothing(put):
    kitchen = Kitchen(decision())
    with pytest.raises(ValueError, match="expected"):
        put(kitchen.cook)
    kitchen.cook.poll()
    assert kitchen.service.posts[0]["readings"] == {}


class Gone:
    """No service at all."""

    def post(self, body, timeout_s):
        raise Unreachable("nobody there")


def test_service_that_is_gone_is_told_but_is_no_error():
    clock = Clock()
    cook = CookSession(Gone(), program="popcorn", edge=clock.edge())
    standing = cook.poll()
    assert (standing.trouble, standing.answer, standing.decision) == ("nobody there", None, "continue")


def test_cap_on_the_heating_is_kept_with_the_real_service_and_after_a_restart_as_well():
    clock = Clock()
    cook = CookSession(service(), program="popcorn", setup={"max_heating_s": 10.0}, edge=clock.edge())
    while cook.goes_on():
        cook.poll()
        cook.wait(0.5)
    assert cook.now_s() == pytest.approx(10.0, abs=0.1)
    assert cook.deliver(5.0)
    clock.wait(1.0)
    cook.restart()
    assert cook.goes_on()
    assert cook.poll().stopped_by == "service"


def test_what_was_sent_by_a_session_is_what_the_service_gets_of_a_whole_cook():
    clock = Clock()
    cook = CookSession(service(), program="popcorn", edge=clock.edge())
    pops = [round(60.0 + 0.4 * count, 3) for count in range(40)]
    while clock() < 1080.0:
        for at_s in [at_s for at_s in pops if cook.now_s() - 0.5 <= at_s < cook.now_s()]:
            cook.pop(at_s)
        cook.poll()
        clock.wait(0.5)
    answer = cook.standing.answer
    whole = asked({"program": "popcorn", "as_of": answer.document["as_of"], "readings": {"pops": pops}})
    assert answer.document["evidence"] == whole["evidence"]
