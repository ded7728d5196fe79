"""The phone's source and sound through JNI on a desktop JVM: the Java of the APK, stand-ins for android.*, threads.

What the stand-ins may do is held to the API's own list in test_java.py. Numbers here are exact (rows, frames) or bounds
with their reason beside them. Each scenario (scenarios.py) has a process of its own: one JVM a process.
"""

from __future__ import annotations

import json
import subprocess

import pytest

from cadence_coach.sources import phone_check
from tests.android import toolbox

PROCESSES = [
    # one after the other in one JVM; the last two leave the stand-ins in a state that nothing after them may meet
    ["stream:100:1", "freeze", "late_rotation", "clocks", "set_back", "press", "places", "service"],
    ["stream:200:0"],
    # in real time, so side by side: they mostly wait
    *([name] for name in ("play", "starve", "drift", "routes", "no_device", "self_test")),
]


class Acted:
    """Starts a scenario's process when it is first asked for; those in real time together."""

    def __init__(self) -> None:
        self._running: dict[str, subprocess.Popen[str]] = {}
        self._told: dict[str, dict] = {}

    def _start(self, names: list[str]) -> None:
        if names[0] not in self._running:
            command = [toolbox.python(), "-m", "tests.android.scenarios", *names]
            process = subprocess.Popen(
                command,
                env=toolbox.tool_env(),
                cwd=toolbox.ROOT,
                text=True,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
            )
            self._running.update(dict.fromkeys(names, process))

    def __getitem__(self, name: str) -> dict:
        mine = next(p for p in PROCESSES if name in p)
        for names in PROCESSES[2:] if mine in PROCESSES[2:] else [mine]:
            self._start(names)
        if name not in self._told:
            out, err = self._running[name].communicate(timeout=240)
            self._told |= {told["name"]: told["told"] for told in map(json.loads, out.splitlines())}
            assert self._running[name].returncode == 0, f"{mine}: {err[-2000:]}"
        return self._told[name]

    def close(self) -> None:
        for process in self._running.values():
            if process.poll() is None:
                process.kill()
            process.wait()


@pytest.fixture(scope="module")
def acted():
    toolbox.available()
    acted = Acted()
    yield acted
    acted.close()


@pytest.mark.parametrize(("name", "rate"), [("stream:100:1", 100), ("stream:200:0", 200)])
def test_ten_minutes_come_through_exactly(acted, name, rate):
    told = acted[name]
    assert told["same"]  # every value and time equal, ==, in the order of time
    assert told["rows"] == 10 * 60 * rate * (2 if name == "stream:100:1" else 1)
    assert told["trouble"] == {"dropped": 0, "fixes_dropped": 0, "clock_steps": 0}
    assert told["period_us"] == 1_000_000 // rate
    assert told["registered"] == 0  # close() let go of the sensors
    assert (told["notes"] == []) == (name == "stream:100:1")  # without a gyroscope it is said
    assert abs(told["meta"]["range_m_s2"] - 8 * 9.80665) < 1e-4


def test_three_seconds_frozen_lose_nothing_and_an_overflow_is_counted(acted):
    told = acted["freeze"]
    assert told["whole"] and told["dropped_before"] == 0
    assert told["dropped"] == 2000  # what did not fit in the ring, the oldest
    assert told["rest_same"]  # and nothing else: one unbroken stretch up to now
    assert told["gaps"] == 1
    assert abs(told["gap_s"] - (1000 + 1) / 200) < 0.01  # 2000 records of two sensors at 200 Hz
    [[start, end]] = told["events"]  # and the engine says so
    assert abs(end - start - told["gap_s"]) < 0.02


def test_rotation_that_comes_late_keeps_its_place(acted):
    assert acted["late_rotation"] == {"same": True, "order": True}


def test_places_with_and_without_speed_one_by_one_and_as_a_list(acted):
    told = acted["places"]
    speeds = [f[3] for f in told["fixes"]]
    assert speeds == [4.5, None, 5.25, 0.0, 4.0, 4.0]  # no speed is no number, standing still is 0
    assert [round(f[1] - f[2], 6) for f in told["fixes"]] == [0.15, 0.4, 0.9, 0.09, 0.09, 0.09]  # its age as it came
    assert [f[6] for f in told["fixes"]] == [pytest.approx(n) if n else None for n in (0.3, None, 0.5, 0.2, 0.3, 0.3)]
    assert all(f[4:6] == [54.1, 10.2] for f in told["fixes"][:4])
    assert [f[4:6] for f in told["fixes"][4:]] == [[None, None]] * 2  # good to no more than 50 m: nobody is called back
    assert told["order"]
    assert told["states"] == [
        *("waiting for satellites", "running", "switched off"),
        *("not allowed", "not allowed", "no receiver", "no receiver"),  # approximate places are as good as none
    ]


def test_a_sensor_clock_hours_off_and_drifting(acted):
    told = acted["clocks"]
    assert told["drift_ppm"] == pytest.approx(-150, abs=20)
    assert told["worst_s"] < 0.003  # a tenth of what the ear notices as jitter in a rhythm
    assert 0.001 < told["bias_s"] < 0.006  # the soonest delivery of the stand-in, 2 ms and what its scatter leaves
    assert abs(told["offset_error_s"]) < 0.002
    assert told["steps"] == 1 and told["after_step_s"] < 0.02


def test_a_sensor_clock_that_is_set_back_takes_the_fixes_with_it(acted):
    """Some seconds until it is known for a step, then each fix is heard as it comes: speed and turn-back go on."""
    assert acted["set_back"] == {"before": 60, "after": 55}


def test_headset_button(acted):
    told = acted["press"]
    assert told["taken"] == [True, True, True]
    assert told["presses"] == [[1.0, 79], [1.3, 87]]  # going down counts, coming up does not
    assert told["after"] is False


def test_foreground_service(acted):
    told = acted["service"]
    assert told["types"] == 2 | 8  # mediaPlayback, location: android.content.pm.ServiceInfo
    assert told["types_without_place"] == 2
    assert told["types_from_behind"] == 2
    assert told["types_refused"] == -1  # neither: goes on without, and says so in the log
    assert told["importance"] == 2  # IMPORTANCE_LOW: makes no sound of its own
    assert (told["title"], told["text"], told["action"]) == ("Coach", "@coach_listens", "@coach_end")
    assert told["said"] == "the last outing was cut off and is whole again"
    assert told["asked"] == [False, True, False]  # "End" was meant for the outing before the second plan
    assert told["next"] == ["", "the second plan", "", "the third plan"]
    assert told["over"] == [False, False, True, True] and told["stopped"]
    assert told["types_third"] == 2 | 8  # in the foreground again, as Android wants after each start
    assert told["left"] == ["kept", False, None] and told["nothing_left"]
    assert (told["held"], told["held_after"]) == (1, 0)
    assert told["killed"]


def accounted(told) -> bool:
    """Every frame that went to the device == what the mixer renders, but for those counted as lost. On a machine
    that keeps up none is; on a busy one sound may be missing, never moved."""
    counted = told["trouble"]["silent"] + told["trouble"]["late_frames"]
    return told["differ_and_sound"] == 0 and told["differ"] <= counted


def test_clicks_come_out_on_their_frame(acted):
    told = acted["play"]
    assert accounted(told)
    assert told["clicks"] == 25 and told["last_heard"]
    assert told["name"] == "phone:2 speaker"


def test_a_frozen_python_is_silence_and_then_every_frame_is_right_again(acted):
    told = acted["starve"]
    assert accounted(told)
    assert told["before"].count(False) >= 15, told  # one second at 20 clicks a second, less what was queued
    assert any(told["before"]) and any(told["after"]), told
    assert told["trouble"]["silent"] > 30_000
    # Silence keeps the track full: without it, it ran dry some sixty times in that second. A few are a busy machine's.
    assert told["trouble"]["underruns"] <= 5


def test_a_device_that_runs_fast(acted):
    told = acted["drift"]
    assert told["worst_frames"] <= 48  # 1 ms
    assert told["soonest_ahead_s"] < 0.3  # a click is decided on 0.3 s ahead


def test_a_headset_comes_and_a_device_dies(acted):
    told = acted["routes"]
    assert told["names"] == ["phone:2 speaker", "phone:8 headset"]
    assert told["changes"] == [0, 1]
    # the headset is heard 50 ms after its frame leaves (so it was measured): each frame is placed so much earlier
    assert told["off_route_frames"] == pytest.approx(-0.05 * 48000, abs=96)  # 2 ms
    assert told["off_death_frames"] == pytest.approx(-0.05 * 48000, abs=96)
    assert told["trouble"]["lost"] == 1
    assert told["reasons"][0].startswith("phone:8 headset: the phone takes no sound") and told["reasons"][1] is None
    assert told["heard_late_s"] == pytest.approx(-0.05, abs=0.005)  # at its moment, not an outage later


def test_no_output_at_all_is_said(acted):
    assert acted["no_device"]["error"].startswith("CouldNot: phone: no sound output opened")


def test_the_self_test_measures_what_the_stand_ins_do(acted):
    told = acted["self_test"]
    assert told["values"]["rate"] == pytest.approx(100, rel=0.02)
    assert told["values"]["dropped"] == 0 and told["values"]["gravity"] == pytest.approx(1)
    assert told["last_share"] > 0.75  # of the last look; on a loaded machine there is a while between two
    # this battery saver is on, and a loaded test machine may deliver late and lose sound; all else passes
    values, failed = told["values"], set(told["failed"])
    assert "saver" in failed and failed <= {"saver", "delay", "clocks", "sound", "lead"}, told["lines"]
    # what was lost or late is a number that was measured, and what failed is over its bound
    assert (values["sound"] > 0) == ("sound" in failed), told["lines"]
    assert (values["lead"] > 1000 * phone_check.MOST_LEAD_S) == ("lead" in failed), told["lines"]
    assert (values["delay"] > 1000 * phone_check.MOST_DELAY_S) == ("delay" in failed), told["lines"]


def test_the_screens_side(tools, tmp_path):
    """Permissions, start of the engine, and a file lent to another app: that one, for reading, and no other."""
    command = [toolbox.python(), "-m", "tests.android.scenarios", f"host::{tmp_path}"]
    done = subprocess.run(command, env=toolbox.tool_env(), cwd=toolbox.ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-2000:]
    told = json.loads(done.stdout.splitlines()[-1])["told"]
    fine, notify = "android.permission.ACCESS_FINE_LOCATION", "android.permission.POST_NOTIFICATIONS"
    assert told["missing"] == [[], [fine, notify]] and told["asked"] == [fine, notify]
    assert told["argument"] == "the plan"
    chooser, send, kind, flags = told["sent"]
    assert (chooser, send) == ("android.intent.action.CHOOSER", "android.intent.action.SEND")
    assert (kind, flags & 1) == ("application/gpx+xml", 1)  # FLAG_GRANT_READ_URI_PERMISSION
    assert told["uri"] == "content://cadencecoach.phone.shared/a ride.gpx"  # the authority that hook.py declares
    assert told["query"] == [1, "a ride.gpx", "6"]
    assert told["opened"] == str(tmp_path / "cache" / "shared" / "a ride.gpx")
    assert told["refused"] == [True, True, True]
    assert told["spared"] is False
    assert told["settings"] == "android.settings.IGNORE_BATTERY_OPTIMIZATION_SETTINGS"
