"""What happens on a phone, acted out on a desktop JVM: `python -m tests.android.scenarios NAME ...`, a JSON line each.

Runs in the tools' own environment, one JVM a process: the Java under test is what goes into the APK, android.* are the
stand-ins.
"""

from __future__ import annotations

import gc
import json
import math
import os
import random
import sys
import threading
import time
from contextlib import ExitStack
from itertools import pairwise
from typing import Any

import numpy as np
from jnius import autoclass

from cadence_coach.core.engine import Engine
from cadence_coach.core.events import ACCEL, FIX, GYRO, Event, Gap, SpeedFix
from cadence_coach.live import Live, Plan, begin
from cadence_coach.sources import open_source, phone
from tests.android.rides import EVENT, HOUR, ride

Context = autoclass("android.content.Context")
SystemClock = autoclass("android.os.SystemClock")
Drive = autoclass("cadencecoach.phone.Drive")


def send(events: np.ndarray) -> None:
    Context.pretendSensors.pretendEvents(events.tobytes())


def opened(rate: int = 100) -> phone.PhoneSource:
    Drive.service("Coach")
    SystemClock.pretendNanos = 5 * HOUR
    source = open_source(f"phone:{rate}")
    assert isinstance(source, phone.PhoneSource)
    return source


def expected(events: np.ndarray) -> list[tuple[float, ...]]:
    """The rows that these events are, computed another way: sorted by stamp, rotation before acceleration."""
    first = int(events["stamp"][events["kind"] == 0][0])
    rows = [(GYRO if e[3] else ACCEL, (int(e[1]) - first) / 1e9, *map(float, e[2])) for e in events]
    return sorted(rows, key=lambda r: (r[1], -r[0]))


def polled(source: phone.PhoneSource, events: np.ndarray, block: int) -> list[tuple[float, ...]]:
    rows = []
    for k in range(0, len(events), block):
        send(events[k : k + block])
        rows += source.poll()
    source.close()
    for more in source:
        rows += more
    return rows


def stream(rate: str, gyro: str = "1") -> dict[str, Any]:
    """Ten minutes in blocks of changing size; and the objects thrown away while Java still delivers."""
    autoclass("android.hardware.SensorManager").pretendGyroscope = gyro == "1"
    events = ride(10, float(rate), gyro == "1")
    source = opened(int(float(rate)))
    began = time.perf_counter()
    rows, at, chance = [], 0, random.Random(5)
    while at < len(events):
        block = chance.choice((1, 3, 8, 40, 700))
        send(events[at : at + block])
        at += block
        rows += source.poll()
    took = time.perf_counter() - began
    source.close()
    for more in source:
        rows += more
    registered = Context.pretendSensors.pretendRegistered()
    period = Context.pretendSensors.pretendPeriodUs
    another = opened()
    send(events[:500])
    another.poll()
    del another
    gc.collect()
    send(events[500:5000])  # Java's listener is still registered and must not need Python
    return {
        "same": rows == expected(events),
        "rows": len(rows),
        "trouble": source.trouble(),
        "notes": source.notes,
        "meta": source.meta,
        "took_s": took,
        "registered": registered,
        "period_us": period,
    }


def freeze() -> dict[str, Any]:
    """Python does nothing for 3 s at 200 Hz, then for longer than the ring holds."""
    events = ride(4, 200)
    source = opened(200)
    rows = []
    send(events[:4000])
    rows += source.poll()
    send(events[4000:5200])  # 3 s of both sensors in one burst
    rows += source.poll()
    whole = rows == expected(events[:5200])[: len(rows)]
    dropped_before = source.trouble()["dropped"]
    burst = phone.SENSOR_ROOM + 2000
    send(events[5200 : 5200 + burst])
    rows += source.poll()
    at = 5200 + burst
    send(events[at : at + 2000])
    rows += source.poll()
    source.close()
    for more in source:
        rows += more
    kept = np.concatenate([events[:5200], events[5200 + 2000 : at + 2000]])
    steps = np.diff([r[1] for r in rows if r[0] == ACCEL])
    return {
        "whole": whole,
        "dropped_before": dropped_before,
        "dropped": source.trouble()["dropped"],
        "rest_same": rows == expected(kept),
        "gap_s": float(steps.max()),
        "gaps": int((steps > 0.1).sum()),
        "events": [[e.time, e.end] for e in heard(rows) if isinstance(e, Gap)],
    }


def heard(rows: list[tuple[float, ...]]) -> list[Event]:
    """What the engine makes of them."""
    engine = Engine()
    engine.receive(rows)
    engine.end()
    return engine.events()


def late_rotation() -> dict[str, Any]:
    """Rotation that comes a block later than the acceleration of the same moment is still put before it."""
    events = ride(0.5, 100)
    source = opened()
    rows = []
    accel, spin = events[::2], events[1::2]
    for k in range(0, len(accel), 2):
        send(accel[k : k + 2])
        rows += source.poll()
        send(spin[k : k + 2])
        rows += source.poll()
    source.close()
    for more in source:
        rows += more
    return {"same": rows == expected(events), "order": all(a[1] <= b[1] for a, b in pairwise(rows))}


def places() -> dict[str, Any]:
    """Fixes with and without speed, one by one and as a list, places good and bad; then switched off, not allowed, only
    approximately allowed, no receiver."""
    LocationManager = autoclass("android.location.LocationManager")
    source = opened()
    events = ride(0.5, 100, gyro=False)
    rows, states = [], [source.location_state()]
    given = [(4.5, 0.3, 150), (float("nan"), float("nan"), 400), (5.25, 0.5, 900), (0.0, 0.2, 90)]
    given += 2 * [(4.0, 0.3, 90)]
    good_to_m = [4.0, float("nan"), 50.0, 4.0, 50.1, 2000.0]
    for k in range(0, 3000, 100):
        send(events[k : k + 100])
        if k % 300 == 0 and k // 300 < len(given):
            speed, accuracy, age_ms = given[k // 300]
            LocationManager.pretendPlaceAccuracy = good_to_m[k // 300]
            Context.pretendLocation.pretendFix(54.1, 10.2, speed, accuracy, age_ms * 10**6, k // 300 % 2 == 1)
        rows += source.poll()
    states.append(source.location_state())
    Context.pretendLocation.pretendSwitch(False)
    states.append(source.location_state())
    source.close()
    for more in source:
        rows += more
    Context.pretendDenied.add("android.permission.ACCESS_FINE_LOCATION")  # newer releases: places by the kilometre
    coarse = opened()
    states.append(coarse.location_state())
    coarse.close()
    Context.pretendDenied.clear()
    LocationManager.pretendAllowed = False
    denied = opened()
    states.append(denied.location_state())
    denied.close()
    LocationManager.pretendReceiver = False
    bare = opened()
    states.append(bare.location_state())
    bare.close()
    Context.pretendPlaceless = True  # not even the service: some tablets
    bare = opened()
    states.append(bare.location_state())
    bare.close()
    Context.pretendPlaceless = False
    fixes = [[None if v != v else v for v in r] for r in rows if r[0] == FIX]
    return {"fixes": fixes, "states": states, "order": all(a[1] <= b[1] for a, b in pairwise(rows))}


def boot_less_monotonic() -> float:
    """[s], of many readings the one that nothing came between: a busy machine tears most of them apart."""
    readings = []
    for _ in range(50):
        before, boot, after = time.monotonic(), SystemClock.elapsedRealtimeNanos() / 1e9, time.monotonic()
        readings.append((after - before, boot - (before + after) / 2))
    return min(readings)[1]


def clocks() -> dict[str, Any]:
    """A sensor clock hours off and 150 ppm fast, delivery 2 to 30 ms late; then it is set anew while it runs."""
    source = opened()
    events = ride(5, 100, gyro=False)
    rng = np.random.default_rng(3)
    true = events["stamp"].copy()  # time since boot at which each sample was really taken
    events["stamp"] = ((true - true[0]) * (1 + 150e-6)).astype(np.int64) + 9 * HOUR
    events["boot"] = true + 2_000_000 + (rng.gamma(1.5, 3e6, len(true))).astype(np.int64)
    first = int(events["stamp"][0])
    errors = []
    for k in range(0, len(events), 25):
        send(events[k : k + 25])
        source.poll()
        if k > 3000:
            boot = source.clock.monotonic((int(events["stamp"][k]) - first) / 1e9) + source.clock.offset
            errors.append(boot - int(true[k]) / 1e9)
    drift = source.clock.drift
    offset_error = source.clock.offset - boot_less_monotonic()
    more = ride(1, 100, gyro=False, seed=2)
    more["stamp"] += int(events["stamp"][-1]) - int(more["stamp"][0]) + 500 * 10**9  # set anew while it runs
    more["boot"] = int(events["boot"][-1]) + 10_000_000 + (np.arange(len(more)) * 10_000_000)
    late = []
    for k in range(0, len(more), 25):
        send(more[k : k + 25])
        source.poll()
        if k > 1500:
            boot = source.clock.monotonic((int(more["stamp"][k]) - first) / 1e9) + source.clock.offset
            late.append(boot - (int(more["boot"][k]) / 1e9))
    steps = source.clock.steps
    source.close()
    return {
        "worst_s": float(np.max(np.abs(np.array(errors) - np.median(errors)))),
        "bias_s": float(np.median(errors)),
        "drift_ppm": drift * 1e6,
        "offset_error_s": offset_error,
        "steps": steps,
        "after_step_s": float(np.max(np.abs(late))),
    }


def set_back() -> dict[str, Any]:
    """The sensor's clock is set back by 500 s after a minute; a fix each second all along."""
    source, engine, heard_at = opened(), Engine(), []
    events = ride(2, 100, gyro=False)
    events["stamp"][6000:] -= 500 * 10**9
    for k in range(0, len(events), 20):
        send(events[k : k + 20])
        if k % 100 == 0:
            Context.pretendLocation.pretendFix(54.0, 10.0, 4.0, 0.3, 100_000_000, False)
        engine.receive(source.poll())
        heard_at += [k / 100 for event in engine.events() if isinstance(event, SpeedFix)]
    source.close()
    return {"before": sum(at < 60 for at in heard_at), "after": sum(at >= 65 for at in heard_at)}


def press() -> dict[str, Any]:
    source = opened()
    session = autoclass("android.media.session.MediaSession").pretendLast
    taken = [session.pretendPress(1000, 0, 79), session.pretendPress(1080, 1, 79), session.pretendPress(1300, 0, 87)]
    presses = source.presses()
    source.close()
    return {"taken": taken, "presses": presses, "after": session.pretendPress(2000, 0, 79)}


def outings(recording: str, bare: str, home: str) -> dict[str, Any]:
    """One ride thrice through the coach into outing files: as a recording without places, through the phone without,
    through the phone with places."""
    os.environ["CADENCE_COACH_HOME"] = home
    rows = [row for part in open_source(recording) for row in part]
    motion = [r for r in rows if r[0] != FIX]
    events = np.zeros(len(motion), EVENT)
    events["stamp"] = [5 * HOUR + round(r[1] * 1e9) for r in motion]
    events["boot"] = events["stamp"] + 3_000_000
    events["xyz"] = [r[2:5] for r in motion]
    events["kind"] = [1 if r[0] == GYRO else 0 for r in motion]
    fixes = [(k + 0.5, 4.0 + 0.5 * math.sin(k / 9), 54.0 + 4e-5 * k, 10.0) for k in range(int(motion[-1][1]))]
    SystemClock.pretendNanos = 5 * HOUR
    Drive.service("Coach")
    files = {}
    for name in ("recording", "phone", "phone with places"):
        with ExitStack() as stack:
            live = begin(Plan(source=bare if name == "recording" else "phone:", fast=True), stack)
            if name != "recording":
                given = fixes if name == "phone with places" else []
                threading.Thread(target=acted_out, args=(live, events, given), daemon=True).start()
            live.run()
            files[name] = live.snapshot.file
            files[f"{name}: trouble"] = getattr(live.source, "trouble", dict)()
    return files


def acted_out(live: Live, events: np.ndarray, fixes: list[tuple[float, ...]]) -> None:
    """The ride on the phone's sensors, as fast as the coach takes it, then the end."""
    at = 0
    for k in range(0, len(events), 40):
        while at < len(fixes) and 5 * HOUR + fixes[at][0] * 1e9 <= events["stamp"][k]:
            _, speed, lat, lon = fixes[at]
            Context.pretendLocation.pretendFix(lat, lon, speed, 0.4, 120_000_000, at % 2 == 0)
            at += 1
        send(events[k : k + 40])
        while k - live._received > phone.SENSOR_ROOM // 2:  # or the ring would run over
            time.sleep(0.01)
    while live._received < 0.99 * len(events):
        time.sleep(0.01)
    live.source.close()


if __name__ == "__main__":
    from tests.android import scenarios_app, scenarios_sound

    place = {**globals(), **vars(scenarios_sound), **vars(scenarios_app)}
    for asked in sys.argv[1:]:
        name, *values = asked.split("::" if "::" in asked else ":")
        print(json.dumps({"name": asked, "told": place[name](*values)}), flush=True)
