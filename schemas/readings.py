"""The readings of a post: what the sensors saw since the last one."""

from dataclasses import dataclass
from typing import Any

from marshmallow import post_load

from schemas.columns import TIME, Column, Rows, Times
from schemas.strict import Object
from service.readings.cook import EMPTY, Cook


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Batch:
    """The readings of one post as a cook, and how many there were before doubles fell together."""

    cook: Cook
    count: int


NOTHING = Batch(cook=EMPTY, count=0)


class ReadingsSchema(Object):
    """Pops, humidity, power and restarts, each a list that may be left out. Loads into a Batch."""

    pops = Times()
    humidity = Rows(
        TIME,
        Column(key="rh_pct", low=0.0, high=100.0, unit="% relative humidity"),
        Column(key="air_c", low=-50.0, high=300.0, unit="degrees Celsius", optional=True),
    )
    power = Rows(TIME, Column(key="level", low=0.0, high=1.0, unit="of full power"))
    restarts = Times()

    @post_load
    def _as_batch(self, read: dict[str, Any], **_: Any) -> Batch:
        if not read:
            return NOTHING
        cook = Cook.of(
            pops_s=read.get("pops", ()),
            humidity=read.get("humidity", ()),
            power=read.get("power", ()),
            restarts_s=read.get("restarts", ()),
        )
        return Batch(cook=cook, count=sum(map(len, read.values())))
