"""The phone's sound, in real time on a stand-in device that takes frames at its own rate. See scenarios.py."""

from __future__ import annotations

import ctypes
import threading
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from jnius import autoclass

from cadence_coach.sound.mixer import Mixer
from cadence_coach.sound.phone import BLOCK, PhoneSink
from cadence_coach.sound.sinks import Sink, open_sink

AudioTrack = autoclass("android.media.AudioTrack")
RATE = 48000


def opened() -> tuple[PhoneSink, Mixer]:
    autoclass("cadencecoach.phone.Drive").service("Coach")
    sink: Sink = open_sink("phone")
    assert isinstance(sink, PhoneSink), sink.reason
    return sink, Mixer(sink.rate, volume_db=0.0)


def tick(n: int = 400) -> np.ndarray:
    return (0.5 * np.sin(2 * np.pi * 1500 * np.arange(n) / RATE)).astype(np.float32)


def heard() -> np.ndarray:
    return np.frombuffer(AudioTrack.pretendLast.pretendHeard().tostring(), "<i2")


def as_pcm(mixer: Mixer, frames: int) -> np.ndarray:
    return np.rint(mixer.render(0, frames) * np.float32(32767)).astype("<i2")


def compared(got: np.ndarray, reference: Mixer) -> dict[str, int]:
    """Frames that differ from what the mixer renders, and those of them that are no silence."""
    differ = got != as_pcm(reference, len(got))
    return {"differ": int(differ.sum()), "differ_and_sound": int((differ & (got != 0)).sum())}


def freeze_python(seconds: float) -> None:
    """No Python thread runs for so long: PyDLL does not let go of the interpreter's lock while C sleeps."""
    ctypes.PyDLL(None).usleep(round(seconds * 1e6))


def until(there: Callable[[], bool], seconds: float = 20.0) -> None:
    """Waits for something to be there; whether it came at all is for the test to say."""
    end = time.monotonic() + seconds
    while not there() and time.monotonic() < end:
        time.sleep(0.05)


def play() -> dict[str, Any]:
    """Clicks by frame number come out on exactly that frame."""
    sink, mixer = opened()
    sink.start(mixer)
    time.sleep(0.2)
    reference = Mixer(RATE, volume_db=0.0)
    wanted = []
    for k in range(25):
        frame = sink.soonest() + 4800 + 37 * k
        mixer.place(tick(), frame)
        reference.place(tick(), frame)
        wanted.append(frame)
        time.sleep(0.07)
    until(lambda: AudioTrack.pretendLast.pretendFrames() > wanted[-1] + 400)
    trouble = sink.trouble()
    sink.close()
    got = heard()
    return {
        **compared(got, reference),
        "clicks": len(wanted),
        "last_heard": wanted[-1] < len(got),
        "trouble": trouble,
        "name": sink.name,
    }


def starve() -> dict[str, Any]:
    """Python frozen for a second: silence, counted, and afterwards every sound is on its frame again."""
    sink, mixer = opened()
    sink.start(mixer)
    time.sleep(0.3)
    reference = Mixer(RATE, volume_db=0.0)
    start = sink.soonest() + 2400
    frames = [start + 2400 * k for k in range(30)]  # one each 50 ms: before and within the freeze
    for frame in frames:
        mixer.place(tick(), frame)
        reference.place(tick(), frame)
    time.sleep(0.5)
    freeze_python(1.0)
    time.sleep(0.2)
    for _ in range(15):  # and after it, wherever the stream has got to
        frame = sink.soonest() + 4800
        mixer.place(tick(), frame)
        reference.place(tick(), frame)
        frames.append(frame)
        time.sleep(0.06)
    until(lambda: AudioTrack.pretendLast.pretendFrames() > frames[-1] + 400)
    trouble = sink.trouble()
    sink.close()
    got, want = heard(), as_pcm(reference, frames[-1] + 400)
    whole = [bool(np.array_equal(got[f : f + 400], want[f : f + 400])) for f in frames]
    return {"before": whole[:30], "after": whole[30:], **compared(got, reference), "trouble": trouble}


def drift() -> dict[str, Any]:
    """The device runs 200 ppm fast: which frame is heard when."""
    AudioTrack.pretendPpm = 200.0
    sink, mixer = opened()
    sink.start(mixer)
    began = time.monotonic()
    errors = []
    while time.monotonic() - began < 3.5:
        time.sleep(0.1)
        if time.monotonic() - began > 1.5:
            stamp = sink._java.timestamp()
            errors.append(sink.frame_at(stamp[1] / 1e9) - stamp[0])
    ahead = sink.soonest() - sink.frame_now()
    sink.close()
    return {"worst_frames": max(map(abs, errors)), "soonest_ahead_s": ahead / RATE}


def routes() -> dict[str, Any]:
    """A headset comes, 180 ms further away; then the device dies under the writer; then there is none for a while."""
    sink, mixer = opened()
    sink.latency_of = lambda output: 0.05 if "headset" in output else 0.0  # as measured by taps and kept
    sink.start(mixer)
    until(lambda: "speaker" in sink.name)
    time.sleep(0.8)
    names = [sink.name]
    changes = [sink.route_changes()]
    track = AudioTrack.pretendLast
    track.pretendRoute(8, "headset", 200_000_000)
    until(lambda: sink.route_changes() > 0)
    time.sleep(1.5)
    names.append(sink.name)
    changes.append(sink.route_changes())
    stamp = sink._java.timestamp()
    off_route = sink.frame_at(stamp[1] / 1e9) - stamp[0]
    AudioTrack.pretendNoDevice = True
    before = time.monotonic()
    track.pretendDeath()
    until(lambda: sink.reason is not None)
    reasons = [sink.reason]
    AudioTrack.pretendNoDevice = False
    until(lambda: sink.reason is None)
    time.sleep(1.5)
    reasons.append(sink.reason)
    stamp = sink._java.timestamp()
    off_death = sink.frame_at(stamp[1] / 1e9) - stamp[0]
    # a sound placed for a moment is heard at that moment, not an outage later
    at = time.monotonic() + 0.6
    frame = sink.frame_at(at)
    mixer.place(tick(), frame)
    time.sleep(1.2)
    new = heard()
    trouble = sink.trouble()
    first = int(np.flatnonzero(new)[0]) if np.any(new) else -1
    began = sink._java.timestamp()
    sink.close()
    # when frame `first` of the new track left: from its last time stamp, whose frame counts from the track's base
    track_base = began[0] - (AudioTrack.pretendLast.pretendFrames())
    left = began[1] / 1e9 - (began[0] - (track_base + first)) / RATE
    return {
        "names": names,
        "changes": changes,
        "off_route_frames": off_route,
        "off_death_frames": off_death,
        "heard_late_s": left - at,
        "trouble": trouble,
        "outage_s": time.monotonic() - before,
        "reasons": reasons,
    }


def self_test() -> dict[str, Any]:
    """The phone's own check, four seconds long, with sensors that deliver in real time."""
    from cadence_coach.sources import phone_check
    from tests.android.rides import ride
    from tests.android.service_boot import deliver

    events = ride(0.3, 100, jitter_s=0.0004)
    events["xyz"][events["kind"] == 0] = (0, 0, 9.80665)
    autoclass("android.os.SystemClock").pretendNanos = int(events["boot"][0]) - 1_000_000_000
    autoclass("cadencecoach.phone.Drive").service("Coach")
    threading.Thread(target=deliver, args=(events,), daemon=True).start()
    shares: list[float] = []
    findings = phone_check.run(autoclass, 4.0, shares.append)
    return {
        "values": {f.name: f.value for f in findings},
        "failed": [f.name for f in findings if not f.passed],
        "last_share": shares[-1],
        "lines": [phone_check.line(f) for f in findings],
    }


def no_device() -> dict[str, Any]:
    """No output at all at the start: the coach is told why, and nothing hangs."""
    AudioTrack.pretendNoDevice = True
    sink, mixer = opened()
    try:
        sink.start(mixer)
    except Exception as error:
        return {"error": f"{type(error).__name__}: {error}"}
    return {"error": None, "block": BLOCK}
