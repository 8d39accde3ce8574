"""The readings of a post: what the sensors saw since the last one."""

from typing import Any, NamedTuple

from schemas.columns import TIME, Column, Rows, Times
from schemas.strict import Object
from service.readings.cook import EMPTY, Cook


class Batch(NamedTuple):
    """The readings of one post as a cook, and how many of them there were before doubles fell together."""

    cook: Cook
    readings: int


RH = Column(key="rh_pct", low=0.0, high=100.0, unit="% relative humidity", says="relative humidity of the exhaust air")
AIR = Column(
    key="air_c",
    low=-50.0,
    high=300.0,
    unit="degrees Celsius",
    says="temperature of the air beside the sensor, where it is known",
    optional=True,
)
LEVEL = Column(key="level", low=0.0, high=1.0, unit="of full power", says="share of full power, 0 for off")
NOTHING = Batch(cook=EMPTY, readings=0)


class ReadingsSchema(Object):
    """What the sensors read, in any order; each list may be left out.

    Loads into a Batch.
    """

    pops = Times(says="times at which a pop was heard")
    humidity = Rows(TIME, RH, AIR, says="what the humidity sensor in the exhaust read")
    power = Rows(
        TIME, LEVEL, says="from each time on, the magnetron runs at this level; without one it is at full power from 0"
    )
    restarts = Times(says="times after a stop at which heating was deliberately started again")

    def made(self, read: dict[str, Any]) -> Batch:
        if not read:
            return NOTHING
        cook = Cook.of(
            pops_s=read.get("pops", ()),
            humidity=read.get("humidity", ()),
            power=read.get("power", ()),
            restarts_s=read.get("restarts", ()),
        )
        return Batch(cook=cook, readings=sum(map(len, read.values())))
