"""What this machine can do, one thing a function, told by `check` and by the app's test on a desktop."""

from __future__ import annotations

import platform
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from cadence_coach.errors import CouldNot, Refused

if TYPE_CHECKING:  # `check` loads what it needs where it needs it
    from cadence_coach.sound.mixer import Mixer
    from cadence_coach.sound.sinks import Sink

SETTLE_S = 1.5


def sound(
    spec: str,
    tone: bool = False,
    volume: float | None = None,
    told: Callable[[float], None] = lambda share: None,
    going: Callable[[], bool] = lambda: True,
) -> dict[str, Any]:
    """Devices, and the sink that would run, run for a moment: in silence, or with a test tone at `volume` dB. told: the
    share that is done; going: false ends it early."""
    from cadence_coach.sound.mixer import DEFAULT_VOLUME_DB, Mixer
    from cadence_coach.sound.sinks import open_sink

    if spec.startswith("wav"):
        raise Refused(f"--sound {spec}: a file needs no check; give device, device:NAME or silent")
    version, devices = _devices()
    sink = open_sink(spec)
    mixer = Mixer(sink.rate, DEFAULT_VOLUME_DB if volume is None else volume)
    sink.start(mixer)
    try:
        began = time.monotonic()
        while (past := time.monotonic() - began) < SETTLE_S and going():
            told(past / SETTLE_S)
            time.sleep(0.05)
        if tone:
            play_tone(sink, mixer)
        trouble = sink.trouble()
        measured = sink.latency_s() if hasattr(sink, "latency_s") else None
        blocks = getattr(sink, "block_frames", None)
    finally:
        sink.close()
    return {
        "portaudio": version,
        "devices": devices,
        "sink": sink.name,
        "reason": sink.reason.partition("; `check`")[0] if sink.reason else None,
        "rate_hz": sink.rate,
        "buffer_latency_s": measured,
        "block_frames": blocks,
        "underflows": trouble.get("underflows", 0),
    }


def play_tone(sink: Sink, mixer: Mixer) -> None:
    """Four clicks and a cue on a sink that runs; back once they are over."""
    first = sink.soonest() + sink.rate // 5
    for k in range(4):
        mixer.place("click", first + k * sink.rate // 2)
    mixer.place("quicker", first + 2 * sink.rate + sink.rate // 2)
    time.sleep(3.7)


def _devices() -> tuple[str | None, list[dict[str, Any]]]:
    try:
        import sounddevice
    except (OSError, ImportError):
        return None, []
    found = [
        {"name": d["name"], "outputs": d["max_output_channels"], "default_rate_hz": d["default_samplerate"]}
        for d in sounddevice.query_devices()
        if d["max_output_channels"] > 0
    ]
    return sounddevice.get_portaudio_version()[1].split(",")[0], found


def speech() -> dict[str, tuple[int, int]]:
    """Language to number of spoken parts that can be read, and of those there should be."""
    from cadence_coach.sound import speech as parts

    return {
        lang: (
            sum((parts.folder() / lang / f"{part}.wav").is_file() for part in parts.texts(lang)),
            len(parts.texts(lang)),
        )
        for lang in parts.LANGUAGES
    }


def sensors() -> dict[str, str | None]:
    """Source that needs hardware to None when it opens, or why not."""
    from cadence_coach.sources import open_source

    try:
        open_source("phone:").close()
        return {"phone": None}
    except (CouldNot, Refused) as error:
        return {"phone": str(error).removeprefix("phone: ")}


def data() -> dict[str, Any]:
    """The data folder and the room in it."""
    import shutil

    from cadence_coach.store.folders import home

    try:
        folder = home()
        return {"folder": str(folder), "free_mb": shutil.disk_usage(folder).free / 1e6, "reason": None}
    except (CouldNot, OSError) as error:
        return {"folder": None, "free_mb": None, "reason": str(error)}


def versions() -> dict[str, str]:
    from cadence_coach import __version__

    return {"cadence-coach": __version__, "Python": platform.python_version(), "system": platform.platform(terse=True)}
