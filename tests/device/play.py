"""Plays a log to the device's client under MicroPython, on a clock of its own; prints what became of it as JSON.

The client is imported first, while the heap is whole: compiling it takes most of that.
"""

import gc
import json

import cookstop

STEP_MS = 100


class Clock:
    """Milliseconds that pass only when told to."""

    def __init__(self):
        self.now_ms = 12345

    def __call__(self):
        return self.now_ms


class Cord:
    """A way to the service that is out for a while: see tests/client/kitchen.py."""

    def __init__(self, service, clock, asked):
        self.service, self.clock, self.way = service, clock, asked["way"]
        self.out_from_ms, self.out_until_ms = asked["out_from_ms"], asked["out_until_ms"]
        self.began_ms = clock()
        self.tries = 0
        self.stop_by_ms = None
        self.least_free = gc.mem_free()

    def is_out(self):
        return self.out_from_ms <= self.clock() - self.began_ms < self.out_until_ms

    def post(self, parts, timeout_ms):
        if self.is_out():
            self.tries += 1
            if self.way == "answers lost":
                self.service.post(parts, 20000)
            if self.way != "refused":
                self.clock.now_ms += timeout_ms
            raise OSError("the cord is out")
        answer = self.service.post(parts, 20000)
        self.stop_by_ms = int(answer["stop_by_s"] * 1000)
        gc.collect()
        self.least_free = min(self.least_free, gc.mem_free())
        return answer


class Armed:
    """Counts how often the timer was armed."""

    def __init__(self):
        self.count = 0

    def __call__(self, ms):
        self.count += 1


class Log:
    """The readings of a log, a line each, as time comes to them."""

    def __init__(self, path):
        self.file = open(path)  # noqa: SIM115 (it is read to the end of the program)
        self._next()

    def put(self, cook, until_ms):
        while self.line and self.line["t_ms"] <= until_ms:
            line = self.line
            if "rh_pct" in line:
                cook.humidity(line["rh_pct"], line.get("air_c"), line["t_ms"])
            elif "level" in line:
                cook.power(line["level"], line["t_ms"])
            else:
                cook.pop(line["t_ms"])
            self._next()

    def _next(self):
        text = self.file.readline()
        self.line = json.loads(text) if text else None


def main(asked):
    clock, armed, stopped_ms = Clock(), Armed(), []
    service = cookstop.Service("127.0.0.1", asked["port"], key=asked.get("key"))
    cord = Cord(service, clock, asked)
    cook = cookstop.Cook(
        cord,
        lambda: stopped_ms.append(cook.ms()),
        setup=asked.get("setup"),
        now_ms=clock,
        arm=armed,
    )
    log, deadline_ms = Log(asked["log"]), None
    while (cook.goes_on() or cook.ms() < asked["until_ms"] or cook.unsent()) and cook.ms() < 900000:
        log.put(cook, cook.ms())
        if cook.goes_on():
            deadline_ms = cord.stop_by_ms
        cook.poll()
        clock.now_ms += STEP_MS
    print(
        json.dumps(
            {
                "stopped_ms": stopped_ms[0],
                "stopped_by": cook.stopped_by,
                "rule": cook.rule,
                "deadline_ms": deadline_ms,
                "armed": armed.count,
                "tries": cord.tries,
                "unsent": cook.unsent(),
                "asked_ms": cook.asked_ms,
                "least_free_bytes": cord.least_free,
                "state": cook.state,
            }
        )
    )
