"""Plays clicks on the default device for a while, as the coach does, and prints what happened as JSON; SIGTERM ends it
sooner.

python -m tests.sound.player SECONDS CLICKS_PER_MIN
"""

from __future__ import annotations

import json
import signal
import sys
import time

from cadence_coach.sound.mixer import Mixer
from cadence_coach.sound.sinks import open_sink

MOST_READ_S = 0.002
"""A reading of the frame that took longer was put aside by a busy machine: it says nothing of when it was made."""


def main(seconds: float, per_min: float) -> None:
    sink = open_sink("device")
    mixer = Mixer(sink.rate, volume_db=0.0)
    sink.start(mixer)
    period = 60 / per_min * sink.rate
    began = time.monotonic()
    k = round(0.5 * sink.rate / period) + 1
    drift_ms, steady_ms, worst_call_ms = [], None, 0.0
    ending = []
    signal.signal(signal.SIGTERM, lambda *_: ending.append(True))
    while time.monotonic() - began < seconds and not ending:
        before = time.monotonic()
        now = sink.frame_now()
        read_s = time.monotonic() - before
        while k * period < now + sink.rate:  # a second ahead
            mixer.place("click", round(k * period))
            k += 1
        worst_call_ms = max(worst_call_ms, 1000 * (time.monotonic() - before))
        if read_s < MOST_READ_S:
            drift_ms.append(1000 * (now / sink.rate - (before - began)))
        if steady_ms is None and sink.trouble().get("lost"):
            steady_ms = sorted(drift_ms[-20:])[10]  # the second before the loss was noticed
        time.sleep(0.05)
    trouble = sink.trouble()
    sink.close()
    late = drift_ms[-60:]  # the last three seconds
    print(
        json.dumps(
            {
                "sink": sink.name,
                "reason": sink.reason,
                "rate": sink.rate,
                "period": period,
                "placed": k,
                "latency_s": sink.latency_s() if hasattr(sink, "latency_s") else None,
                "clock_wander_ms": max(late) - min(late),
                "clock_shift_ms": sum(late) / len(late) - steady_ms if steady_ms is not None else None,
                "worst_call_ms": worst_call_ms,
                **trouble,
            }
        )
    )


if __name__ == "__main__":
    main(float(sys.argv[1]), float(sys.argv[2]))
