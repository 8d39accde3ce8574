"""Asking the service: a whole cook, or one post at a time; over the network, or in this very process.

A hub loop, whole::

    from service.client import CookSession, GuardedContact, OverNetwork

    def cook_a_bag(url, key, oven, sensors, show):
        service = OverNetwork(url, key=key)
        with (
            GuardedContact(oven.switch_off) as contact,
            CookSession(service, program="popcorn", contact=contact) as cook,
        ):
            oven.switch_on()
            cook.power(1.0)
            while cook.goes_on():
                for age_s in sensors.new_pops():
                    cook.pop(cook.now_s() - age_s)
                for rh_pct, air_c in sensors.new_humidity():
                    cook.humidity(rh_pct, air_c)
                show(cook.poll())
                cook.wait(0.1)
            cook.deliver(10.0)

`poll` asks when it is due and comes back at once otherwise. A service that is gone is no error: readings are kept, the
question is tried again, and the contact opens at the last deadline that the service gave, or after `unanswered_s`
where it never gave one. Only a post that is wrong raises, Refused; leaving the `with` block opens the contact, however
it is left.
"""

from service.client.asking import Answered, Ask, NoAnswer, asking, in_process, over_http
from service.client.contact import Contact, GuardedContact
from service.client.edge import Edge, Manners
from service.client.reply import Answer, Refused
from service.client.session import CookSession, Standing
from service.client.transport import InProcess, OverNetwork, Reply, Transport, Unreachable

__all__ = [
    "Answer",
    "Answered",
    "Ask",
    "Contact",
    "CookSession",
    "Edge",
    "GuardedContact",
    "InProcess",
    "Manners",
    "NoAnswer",
    "OverNetwork",
    "Refused",
    "Reply",
    "Standing",
    "Transport",
    "Unreachable",
    "asking",
    "in_process",
    "over_http",
]
