"""The phone's self-test: half a minute of its own samples, sound and clocks, judged. The phone lies still, screen on.
 `judge` is pure; `run` collects on a phone what it judges. Each bound has its ground beside it; none of them is a
promise about a ride: screen off and in the pouch a phone may do worse, see android/README.md.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from typing import Any

import attrs
import numpy as np

from cadence_coach.core.events import ACCEL, FIX, GYRO, Row
from cadence_coach.core.units import G

SECONDS = 30.0

SLOWEST = 0.9
"""Least share of the asked rate: below, Android or a battery saver holds the sensor back."""
LEAST_HZ = 48.0
"""50 Hz is the floor for onsets to 10 ms (Cramer-Rao over a cycle, computed), less what a clock is off."""
MOST_JITTER_S = 0.003
"""Robust spread of the steps; the detector is tested with 1.5 to 3 ms."""
MOST_GAP_S = 0.1
MOST_DELAY_S = 0.1
"""95th percentile of the newest sample's age: a correction may be late by this, a click is predicted and is not."""
MOST_SCALE = 0.03
"""The sensor's scale, by the length of gravity: size and travel carry its error."""
MOST_LEAD_S = 0.3
"""A click is decided on 0.3 s ahead (Settings.click_ahead_s)."""
MOST_DRIFT = 200e-6
"""Crystals differ by 20 to 100 ppm (common practice, no source); twice that is a broken clock."""


@attrs.frozen
class Finding:
    """One line of the self-test: `name` (key of TEXTS), what was measured, in which unit, and whether it will do."""

    name: str
    value: float | str
    unit: str
    passed: bool


@attrs.frozen
class Measured:
    """What was seen in `seconds`. rows: as the source gave them; delays: age of the newest sample at each look [s];
    source: its trouble(); sound: the sink's trouble(), None without sound; lead_s: how far ahead a sound must be
    placed."""

    seconds: float
    asked_hz: float
    rows: Sequence[Row]
    delays: Sequence[float]
    source: dict[str, int]
    sound: dict[str, int] | None
    sound_reason: str | None
    lead_s: float
    sensor_drift: float
    location: str
    spared: bool


def judge(m: Measured) -> list[Finding]:
    """All findings, in the order they are shown."""
    accel = np.array([r[1:5] for r in m.rows if r[0] == ACCEL]).reshape(-1, 4)
    steps = np.diff(accel[:, 0])
    found = [Finding("samples", float(len(accel)), "", len(accel) > 10)]
    if len(accel) > 10:
        step = float(np.median(steps))
        rate = 1 / step if step > 0 else 0.0
        spread = 1.4826 * float(np.median(np.abs(steps - step)))
        gravity = float(np.linalg.norm(accel[:, 1:].mean(axis=0)))
        found += [
            Finding("rate", rate, "Hz", rate >= max(LEAST_HZ, SLOWEST * m.asked_hz)),
            Finding("jitter", 1000 * spread, "ms", spread <= MOST_JITTER_S),
            Finding("gap", 1000 * float(steps.max()), "ms", float(steps.max()) <= MOST_GAP_S),
            Finding("gravity", gravity / G, "g", abs(gravity / G - 1) <= MOST_SCALE),
        ]
    turns = sum(r[0] == GYRO for r in m.rows)
    found.append(Finding("rotation", turns / m.seconds, "Hz", turns / m.seconds >= 0.4 * m.asked_hz))
    found.append(Finding("dropped", float(m.source["dropped"]), "", m.source["dropped"] == 0))
    delay = float(np.percentile(m.delays, 95)) if len(m.delays) else float("inf")
    found.append(Finding("delay", 1000 * delay, "ms", delay <= MOST_DELAY_S))
    steady = abs(m.sensor_drift) <= MOST_DRIFT and m.source["clock_steps"] == 0
    found.append(Finding("clocks", 1e6 * m.sensor_drift, "ppm", steady))
    if m.sound is None:
        found.append(Finding("sound", m.sound_reason or "none", "", False))
    else:
        lost = sum(m.sound[k] for k in ("underruns", "silent", "late_frames", "lost"))
        found.append(Finding("sound", float(lost), "", lost == 0 and m.sound_reason is None))
        found.append(Finding("lead", 1000 * m.lead_s, "ms", m.lead_s <= MOST_LEAD_S))
    speeds = sum(r[0] == FIX and r[3] == r[3] for r in m.rows)
    found.append(Finding("speed", float(speeds) if speeds else m.location, "", m.location in ("running", SEARCHING)))
    found.append(Finding("saver", "off" if m.spared else "on", "", m.spared))
    return found


SEARCHING = "waiting for satellites"
"""Indoors this is no fault."""


def run(
    autoclass: Any,
    seconds: float = SECONDS,
    told: Callable[[float], None] = lambda share: None,
    going: Callable[[], bool] = lambda: True,
) -> list[Finding]:
    """Measures and judges. On the thread that Java started Python on, or the classes looked up before; told: the share
    that is done. No outing may be running: it has the sensors."""
    from cadence_coach.sound.mixer import Mixer
    from cadence_coach.sound.sinks import open_sink
    from cadence_coach.sources.phone import open as open_phone

    Phone = autoclass("cadencecoach.phone.Phone")
    source, sink = open_phone(), open_sink("phone")
    audible = sink.name != "silent"
    rows: list[Row] = []
    delays: list[float] = []
    lead = 0.0
    try:
        if audible:
            sink.start(Mixer(sink.rate))
        began = time.monotonic()
        while (past := time.monotonic() - began) < seconds and going():
            new = source.poll()
            rows += new
            newest = max((r[1] for r in new if r[0] == ACCEL), default=None)
            if newest is not None:
                delays.append(source.now() - newest)
            if audible and past > 1.0:
                lead = max(lead, (sink.soonest() - sink.frame_now()) / sink.rate)
            told(min(1.0, past / seconds))
            time.sleep(0.02)
        return judge(
            Measured(
                seconds=time.monotonic() - began,
                asked_hz=source.rate,
                rows=rows,
                delays=delays,
                source=source.trouble(),
                sound=sink.trouble() if audible else None,
                sound_reason=sink.reason,
                lead_s=lead,
                sensor_drift=source.clock.drift,
                location=source.location_state(),
                spared=bool(Phone.spared(Phone.context())),
            )
        )
    finally:
        source.close()
        if audible:
            sink.close()


TEXTS: dict[str, dict[str, tuple[str, str]]] = {
    "en": {
        "samples": ("Samples of the accelerometer", "None: close other apps that use sensors, restart the phone."),
        "rate": ("Samples a second", "Held back: exempt the coach from the battery saver, leave power saving."),
        "jitter": ("Scatter of the sample times", "Uneven: close other apps; pumps are timed less exactly."),
        "gap": ("Longest pause between samples", "Pauses: exempt the coach from the battery saver, close other apps."),
        "gravity": ("Length of gravity", "Over 3 % off: lay it still, test again; size is off as much."),
        "rotation": ("Rotation samples a second", "No gyroscope: wear the phone tight, on the back, not on the arm."),
        "dropped": ("Samples dropped", "The phone was too busy: close other apps."),
        "delay": ("Age of the newest sample", "Late: corrections come later; clicks are predicted and do not."),
        "clocks": ("Sensor clock against the phone's", "Steps or drifts: restart the phone; else mute the clicks."),
        "sound": ("Sound lost", "Close other apps that play; end calls; try without the headset."),
        "lead": ("Sound is placed ahead by", "Too far: a headset in a slow mode? Try another, or the speaker."),
        "speed": ("Fixes with speed", "Switch location on and allow it to the coach, precise, while in use."),
        "saver": ("Battery saver for the coach", "Set it to unrestricted, or the coach may fall silent in the pouch."),
    },
    "de": {
        "samples": ("Messwerte des Beschleunigungssensors", "Keine: andere Apps schließen, das Telefon neu starten."),
        "rate": ("Messwerte je Sekunde", "Gebremst: den Akkusparmodus verlassen und den Coach davon ausnehmen."),
        "jitter": ("Streuung der Messzeiten", "Andere Apps schließen; Stöße werden sonst ungenauer."),
        "gap": ("Längste Pause zwischen Messwerten", "Pausen: vom Akkusparen ausnehmen, andere Apps schließen."),
        "gravity": ("Länge der Schwerkraft", "Über 3 % daneben: still hinlegen, nochmals prüfen."),
        "rotation": ("Drehmesswerte je Sekunde", "Kein Kreisel: das Telefon eng am Rücken tragen, nicht am Arm."),
        "dropped": ("Verlorene Messwerte", "Das Telefon war zu beschäftigt: andere Apps schließen."),
        "delay": ("Alter des neuesten Messwerts", "Spät: Hinweise kommen später, vorausberechnete Klicks nicht."),
        "clocks": ("Sensoruhr gegen Telefonuhr", "Springt oder läuft weg: neu starten; sonst Klicks abschalten."),
        "sound": ("Verlorener Ton", "Andere Apps mit Ton schließen; Anrufe beenden; ohne Kopfhörer versuchen."),
        "lead": ("Ton wird im Voraus gesetzt um", "Zu weit: anderen Kopfhörer oder den Lautsprecher nehmen."),
        "speed": ("Ortungen mit Tempo", "Ortung einschalten und dem Coach genau erlauben."),
        "saver": ("Akkusparen für den Coach", "Auf uneingeschränkt stellen, sonst schweigt der Coach im Beutel."),
    },
}  # fmt: skip
"""Name of a finding: what was measured, and what to do when it did not pass."""

VALUES: dict[str, dict[str, str]] = {
    "en": {},
    "de": {
        "waiting for satellites": "sucht Satelliten",
        "running": "läuft",
        "switched off": "ausgeschaltet",
        "not allowed": "nicht erlaubt",
        "no receiver": "kein Empfänger",
        "on": "an",
        "off": "aus",
    },
}
"""What was measured where it is no number."""


def line(finding: Finding, lang: str = "en") -> str:
    """One finding as a line: what, how much, and what to change where it did not pass."""
    what, advice = TEXTS[lang][finding.name]
    value = finding.value
    said = VALUES[lang].get(value, value) if isinstance(value, str) else _written(value, lang)
    told = f"{what}: {said} {finding.unit}".rstrip()
    return told if finding.passed else f"{told}. {advice}"


def _written(value: float, lang: str) -> str:
    """Three figures, and never an exponent; a dash for what there was none of."""
    if not math.isfinite(value):
        return "–"
    text = f"{value:.3g}" if abs(value) < 999.5 else f"{value:.0f}"
    return text.replace(".", ",") if lang == "de" else text
