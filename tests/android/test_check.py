"""The phone's self-test: what it measures of made-up samples of known rate, jitter, gaps and scale; what it advises."""

from __future__ import annotations

import attrs
import numpy as np
import pytest

from cadence_coach.core.events import ACCEL, FIX, GYRO
from cadence_coach.sources import phone_check
from cadence_coach.sources.phone import LOCATION_STATES
from cadence_coach.sources.phone_check import Finding, Measured, judge, line

QUIET = {"underruns": 0, "silent": 0, "late_frames": 0, "lost": 0, "route_changes": 0, "late": 0, "too_many": 0}


def rows(rate=100.0, jitter_s=0.0005, scale=1.0, gap_s=0.0, gyro=True, seconds=30.0, speed=4.0):
    rng = np.random.default_rng(2)
    t = np.arange(int(seconds * rate)) / rate + rng.normal(0, jitter_s / np.sqrt(2), int(seconds * rate))
    t[len(t) // 2 :] += gap_s
    out = [(ACCEL, float(a), 0.0, 0.0, 9.80665 * scale) for a in t]
    if gyro:
        out += [(GYRO, float(a), 0.0, 0.0, 0.0) for a in t]
    out += [(FIX, float(k), k - 0.2, speed, 54.0, 10.0, 0.3, 0.0) for k in range(5)]
    return sorted(out, key=lambda r: (r[1], -r[0]))


GOOD = Measured(
    seconds=30.0, asked_hz=100.0, rows=rows(), delays=[0.01] * 100 + [0.03], source={"dropped": 0, "clock_steps": 0},
    sound=QUIET, sound_reason=None, lead_s=0.16, sensor_drift=20e-6, location="running", spared=True,
)  # fmt: skip


def found(measured: Measured):
    return {f.name: f for f in judge(measured)}


def test_a_good_phone_passes_and_the_figures_are_right():
    f = found(GOOD)
    assert all(x.passed for x in f.values()), [x for x in f.values() if not x.passed]
    assert f["rate"].value == pytest.approx(100, rel=0.01)
    assert f["jitter"].value == pytest.approx(0.5, rel=0.1)  # ms: what was put in
    assert f["gravity"].value == pytest.approx(1.0)
    assert f["rotation"].value == pytest.approx(100, rel=0.01)
    assert f["speed"].value == 5
    assert set(f) == set(phone_check.TEXTS["en"]) == set(phone_check.TEXTS["de"])


@pytest.mark.parametrize(
    ("name", "changes"),
    [
        ("rate", {"rows": rows(rate=50)}),
        ("rate", {"rows": rows(rate=5)}),
        ("jitter", {"rows": rows(jitter_s=0.006)}),
        ("gap", {"rows": rows(gap_s=0.5)}),
        ("gravity", {"rows": rows(scale=1.05)}),
        ("rotation", {"rows": rows(gyro=False)}),
        ("dropped", {"source": {"dropped": 3, "clock_steps": 0}}),
        ("delay", {"delays": [0.01] * 50 + [0.4] * 5}),
        ("delay", {"delays": []}),
        ("clocks", {"sensor_drift": 400e-6}),
        ("clocks", {"source": {"dropped": 0, "clock_steps": 1}}),
        ("sound", {"sound": QUIET | {"underruns": 1}}),
        ("sound", {"sound": None, "sound_reason": "no output"}),
        ("lead", {"lead_s": 0.5}),
        ("speed", {"location": "switched off", "rows": rows(speed=float("nan"))}),
        ("saver", {"spared": False}),
        ("samples", {"rows": []}),
    ],
)
def test_each_fault_is_found_with_what_to_change(name, changes):
    findings = found(attrs.evolve(GOOD, **changes))
    assert not findings[name].passed
    assert phone_check.TEXTS["en"][name][1] in line(findings[name])
    assert phone_check.TEXTS["de"][name][0] in line(findings[name], "de")
    others = {k for k, f in findings.items() if not f.passed} - {name}
    assert others <= {"rate", "rotation", "gap"}  # a slow sensor is slow in all of these


def test_indoors_without_satellites_is_no_fault():
    f = found(attrs.evolve(GOOD, location="waiting for satellites", rows=rows(speed=float("nan"))))
    assert f["speed"].passed and f["speed"].value == "waiting for satellites"


@pytest.mark.parametrize(
    ("value", "en", "de"),
    [(3000.0, "3000", "3000"), (2512.4, "2512", "2512"), (999.7, "1000", "1000"), (123.45, "123", "123"),
     (20.04, "20", "20"), (0.994, "0.994", "0,994"), (0.0, "0", "0"), (-20.0, "-20", "-20"),
     (float("inf"), "–", "–")],
)  # fmt: skip
def test_numbers_are_written_as_people_write_them(value, en, de):
    assert line(Finding("gap", value, "ms", True)).endswith(f": {en} ms")
    assert line(Finding("gap", value, "ms", True), "de").endswith(f": {de} ms")


def test_what_is_no_number_is_said_in_the_language():
    for value in (*LOCATION_STATES, "on", "off"):
        assert line(Finding("saver", value, "", True)).endswith(f": {value}")
        assert set(phone_check.VALUES["de"]) == {*LOCATION_STATES, "on", "off"}
        assert line(Finding("saver", value, "", True), "de").endswith(f": {phone_check.VALUES['de'][value]}")
    assert line(found(attrs.evolve(GOOD, spared=False))["saver"], "de").startswith("Akkusparen für den Coach: an.")
