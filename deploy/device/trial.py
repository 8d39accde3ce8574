# A trial of the client beside this file, without a device: plays a log to it, on a clock that only the log moves.
#
#     micropython trial.py 127.0.0.1 8080 cook.ndjson
#
# COOKSTOP_KEY is sent as a bearer key.

import json
import os
import sys

import cookstop


def put(cook, readings):
    for t_s in readings.get("pops", ()):
        cook.pop(int(t_s * 1000))
    for one in readings.get("humidity", ()):
        cook.humidity(one["rh_pct"], one.get("air_c"), int(one["t"] * 1000))
    for one in readings.get("power", ()):
        cook.power(one["level"], int(one["t"] * 1000))


def play(host, port, path):
    now_ms = [0]
    service = cookstop.Service(host, int(port), key=os.getenv("COOKSTOP_KEY"))
    cook = cookstop.Cook(service, lambda: print("contact open"), now_ms=lambda: now_ms[0])
    with open(path) as log:
        for line in log:
            post = json.loads(line)
            now_ms[0] = int(post["as_of"] * 1000)
            put(cook, post["readings"])
            said = cook.poll()
            print(f"{cook.ms() // 1000} s: {said}, stop by {cook.stop_by_ms // 1000} s")
            if not cook.goes_on():
                break
    print(f"stopped by the {cook.stopped_by} at {cook.ms() // 1000} s")


play(*sys.argv[1:])
