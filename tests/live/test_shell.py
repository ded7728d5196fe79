"""The running coach: one engine whatever feeds it, everything kept, commands and faults at their place."""

from __future__ import annotations

import dataclasses
import json
import time

import numpy as np
import pytest

from cadence_coach.core import events as ev
from cadence_coach.core.settings import Settings
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.live import Snapshot, machine
from cadence_coach.live.asked import COMMANDS, checked
from cadence_coach.live.begin import engine_of
from cadence_coach.live.feed import VirtualClock, ask_at, paced, pieces
from cadence_coach.sound import cues
from cadence_coach.sound.pcm import read_wav
from cadence_coach.sound.sinks import SilentSink, WavSink
from cadence_coach.sources import open_source
from cadence_coach.store import writer as writer_
from cadence_coach.store.outing_file import load_outing
from tests.live import build


@pytest.fixture(scope="module")
def ride(tmp_path_factory):
    return build.recording(tmp_path_factory.mktemp("ride") / "ride")


@pytest.fixture(scope="module")
def kept(ride, tmp_path_factory):
    """The ride's outing file, made fast."""
    path = tmp_path_factory.mktemp("kept") / "a.outing"
    build.live(open_source(str(ride)), path).run()
    return load_outing(path)


def test_the_file_holds_the_ride_and_a_replay_says_the_same(ride, kept):
    rows = [row for part in open_source(str(ride)) for row in part]
    assert repr(list(kept.rows())) == repr(rows)
    assert kept.meta["ended"] == "end_of_data"
    assert len(kept.flights) >= 1 and len(kept.cycles) > 10
    assert build.replayed(kept) == build.tables(kept)


@pytest.mark.parametrize("size", [1, 7, 333])
def test_a_device_and_a_recording_give_the_same_file(ride, kept, tmp_path, size):
    """Through feeder, inbox and engine thread, in lists of any size."""
    running = build.live(build.Device(ride, size=size), tmp_path / "a.outing", fast=False)
    running.start()
    assert running.join(60)
    assert build.tables(load_outing(tmp_path / "a.outing")) == build.tables(kept)


def test_a_device_that_is_asked_gives_the_same_file_without_a_feeder(ride, kept, tmp_path):
    """Lists of half a second, asked for each 50 ms; what breaks in it ends the outing and is told."""
    device = build.Polled(ride, size=200)
    running = build.live(device, tmp_path / "a.outing", fast=False)
    running.start()
    assert running.join(60)
    assert running._feeder is None and running.ended_by is None and device._closed
    assert build.tables(load_outing(tmp_path / "a.outing")) == build.tables(kept)
    broken = build.live(build.Polled(ride, fails_at=3), tmp_path / "b.outing", fast=False)
    broken.start()
    with pytest.raises(OSError, match="pulled out"):
        broken.join(60)
    assert load_outing(tmp_path / "b.outing").meta["ended"] == "error"


def test_a_device_is_asked_when_a_click_is_to_be_decided_on():
    """Each 50 ms; in between 20 ms after a deadline, but no sooner than that after the last time."""
    for due, at in (
        (9.0, 10.02),
        (9.995, 10.02),
        (10.01, 10.03),
        (10.03, 10.05),
        (10.04, 10.05),
        (float("inf"), 10.05),
    ):
        assert ask_at(10.0, due) == pytest.approx(at)


@pytest.mark.parametrize("kind, size", [(build.Device, 20), (build.Polled, 200)])
def test_deadlines_happen_while_rows_stay_away_and_a_replay_does_the_same(kind, size, ride, tmp_path):
    device = kind(ride, stalls={1000 // size: 3.2}, size=size)
    running = build.live(device, tmp_path / "a.outing", fast=False)
    running.start()
    assert running.join(60)
    outing = load_outing(tmp_path / "a.outing")
    assert "silent" in {f.kind for f in outing.faults}
    assert [c.name for c in outing.commands].count("advance") >= 1
    assert build.replayed(outing) == build.tables(outing)


def test_a_sensor_that_does_not_begin_is_told_and_heard_once_it_does(ride, tmp_path):
    """Registered, and not a row: all sensors may be switched off in the phone's quick settings."""
    device = build.Polled(ride, stalls={0: 4.5})
    running = build.live(device, tmp_path / "a.outing", fast=False, count_in=0)
    running.start()
    build.until(running, lambda: running.snapshot.sensor == "silent")
    assert running._received == 0 and running.snapshot.last_cue["kind"] == "silent_sensor"
    build.until(running, lambda: running.snapshot.sensor == "ok")
    assert running.join(60)
    outing = load_outing(tmp_path / "a.outing")
    assert [c.given for c in outing.commands if c.after_rows == 0 and c.name == "fault"] == [{"kind": "silent"}]
    assert [f.kind for f in outing.faults].count("silent") == 1
    assert build.replayed(outing) == build.tables(outing)


def test_a_sensor_is_waited_for_from_when_the_sound_has_started(ride, tmp_path, monkeypatch):
    """Each takes its time, a headset above all: 3.9 s in all are no silence of the sensor."""
    sink = SilentSink()
    start = sink.start
    monkeypatch.setattr(sink, "start", lambda mixer: (time.sleep(1.5), start(mixer)))
    running = build.live(build.Polled(ride, stalls={0: 2.4}), tmp_path / "a.outing", fast=False, sink=sink)
    running.start()
    assert running.join(60)
    assert "silent" not in {f.kind for f in load_outing(tmp_path / "a.outing").faults}


def test_commands_are_kept_where_they_happened(ride, tmp_path):
    here, later = build.Gate(), build.Gate()
    device = build.Device(ride, stalls={100: here, 200: later})
    running = build.live(device, tmp_path / "a.outing", fast=False, count_in=0)
    running.start()
    build.until(running, here.reached.is_set)
    running.command("set_lead", lead="target")
    running.command("mute", on=True)
    running.command("mark")
    with pytest.raises(Refused):
        running.command("set_lead", lead="sideways")
    here.open.set()
    build.until(running, later.reached.is_set)
    assert running.snapshot.lead == "target" and running.snapshot.muted and running.score.muted
    later.open.set()
    assert running.join(60)
    outing = load_outing(tmp_path / "a.outing")
    told = [(c.name, c.after_rows) for c in outing.commands if c.name != "advance"]
    assert told == [("arm", 0), ("start", 0), ("set_lead", 2000), ("mute", 2000), ("mark", 2000)]
    assert build.replayed(outing) == build.tables(outing)
    with pytest.raises(CouldNot, match="over"):
        running.command("mark")


@pytest.mark.parametrize(
    ("name", "given"),
    [
        ("fly", {}),
        (3, {}),
        ("arm", {}),
        ("arm", {"start": "plane"}),
        ("arm", {"start": "dock", "more": 1}),
        ("mute", {"on": 1}),
        ("set_goal", {"seconds": "long"}),
        ("set_goal", {"pumps": True}),
        ("set_focus", {"focus": ["size"]}),
        ("mark", []),
        ("go_on", {}),
        ("go_on", {"ridden_s": [60.0]}),
        ("go_on", {"ridden_s": 60.0, "home": 47.0}),
        ("go_on", {"ridden_s": 60.0, "best": ["many"]}),
        ("go_on", {"ridden_s": 60.0, "last": [float("nan")]}),
    ],
)
def test_a_wrong_command_is_refused_before_the_engine_hears_it(name, given):
    with pytest.raises(Refused) as told:
        checked(name, given)
    assert "\n" not in str(told.value)


def test_every_command_is_known_to_the_engine():
    values = {
        "start": "dock",
        "focus": None,
        "lead": "rider",
        "level": "full",
        "seconds": 20.0,
        "pumps": 10,
        "on": True,
        "ridden_s": 60.0,
        "home": [47.0, 8.0],
        "best": [12],
        "last": [],
    }
    for name, wanted in COMMANDS.items():
        engine_of(Settings(), build.band()).command(name, **checked(name, {k: values[k] for k in wanted}))


def test_snapshots_are_frozen_and_go_through_json(ride, monkeypatch):
    monkeypatch.setattr("cadence_coach.live.shell.SHOW_S", 0.0)  # each list has its snapshot, and none is missed
    running = build.live(build.Device(ride, size=50), None, fast=False)
    seen, show = [], running._show

    def watched(**changes):
        show(**changes)
        seen.append(running.snapshot)

    running._show = watched
    running.start()
    assert running.join(60)
    for one in (seen[0], seen[len(seen) // 2], seen[-1]):
        text = json.dumps(one.plain(), allow_nan=False)
        assert Snapshot.from_plain(json.loads(text)).plain() == one.plain()
        with pytest.raises(dataclasses.FrozenInstanceError):
            one.phase = "going"
    assert seen[-1].phase == "ended" and seen[-1].ended_by == "end_of_data"
    assert seen[-1].flights >= 1 and seen[-1].best_s > 1
    assert any(s.motion == "flight" and s.flight_pumps for s in seen)


def test_the_engines_time_is_shown_and_no_stamp_astray(tmp_path):
    """One stamp of 2000 s in 30 s: neither time nor sound go there."""
    rows = build.still(0.0, 30.0)
    rows.insert(1500, (ev.ACCEL, 2000.0, 0.0, 0.0, 9.8))
    heard = tmp_path / "heard.wav"
    virtual = VirtualClock()
    running = build.live(build.Device(rows), None, sink=WavSink(str(heard), 48000, clock=virtual))
    running.fast = virtual
    running.run()
    assert running.snapshot.time_s == pytest.approx(30.0, abs=0.02) and running.snapshot.sensor == "ok"
    sound, rate = read_wav(heard)
    assert len(sound) / rate < 40.0


def test_a_recording_is_paced_by_stamps_that_the_next_row_bears_out():
    class Over:
        """Nobody waits: the clock goes on instead."""

        def wait(self, seconds):
            waits.append(seconds)
            return False

        def is_set(self):
            return False

    rows = build.still(0.0, 1.0)
    rows.insert(30, (ev.ACCEL, 2000.0, 0.0, 0.0, 9.8))
    waits: list[float] = []
    taken = []
    for piece in paced([rows[:37], rows[37:]], 0.0, lambda: sum(waits), Over()):
        taken += piece
        assert sum(waits) <= 1.0
    assert taken == rows and sum(waits) == pytest.approx(0.95, abs=0.04)
    assert list(paced([rows, [], rows], None, lambda: 0.0, Over())) == [rows, [], rows]


def test_stop_ends_and_closes(ride, tmp_path):
    running = build.live(build.Device(ride, stalls={100: 60.0}), tmp_path / "a.outing", fast=False)
    running.start()
    build.until(running, lambda: running.snapshot.time_s >= 5)
    running.command("stop")
    assert running.join(20)
    outing = load_outing(tmp_path / "a.outing")
    assert outing.meta["ended"] == "stopped" and [p.name for p in tmp_path.iterdir()] == ["a.outing"]
    assert build.replayed(outing) == build.tables(outing)


def test_a_broken_source_closes_the_outing_and_is_told(ride, tmp_path):
    running = build.live(build.Device(ride, fails_at=100), tmp_path / "a.outing", fast=False)
    running.start()
    with pytest.raises(OSError, match="pulled out"):
        while not running.join(0.1):
            pass
    outing = load_outing(tmp_path / "a.outing")
    assert outing.meta["ended"] == "error" and len(outing.kinds) == 2000 and running.finished.is_set()


def test_an_empty_battery_saves_says_and_stops(ride, tmp_path, monkeypatch):
    monkeypatch.setattr("cadence_coach.live.shell.LAST_WORDS_S", 0.2)
    levels = iter([30.0, 9.0, 8.0, 8.0])
    running = build.live(
        build.Device(ride, stalls={100: 60.0}), tmp_path / "a.outing", fast=False, battery=lambda: next(levels, 8.0)
    )
    running._watch._every = 0.1
    running.start()
    assert running.join(20)
    outing = load_outing(tmp_path / "a.outing")
    assert outing.meta["ended"] == "battery"
    assert [f.kind for f in outing.faults if "battery" in f.kind] == ["battery_low", "battery_stop"]
    assert {"battery_low", "battery_stop"} <= {c.kind for c in outing.cues}
    assert running.snapshot.battery_percent == 8.0


@pytest.mark.parametrize("wrong", ["the store", "the sink"])
def test_an_end_that_fails_is_an_end_all_the_same(ride, tmp_path, wrong):
    """The store ended by a row that it cannot take; or the sink cannot be closed, and the file is."""
    running = build.live(build.Device(ride, stalls={50: 60.0}), tmp_path / "a.outing", fast=False, count_in=0)
    running.start()
    build.until(running, lambda: running.snapshot.time_s > 1.0)
    if wrong == "the store":
        running.writer.put([(ev.ACCEL, 9.0, "up", 0.0, 9.8)], [])
        running.writer._over.wait(60)
    else:
        running.sink.close = lambda: (_ for _ in ()).throw(OSError("no such device"))
    running.command("stop")
    with pytest.raises(Exception, match=r"real number|no such device"):
        running.join(60)
    assert running.finished.is_set() and (running.snapshot.phase, running.snapshot.ended_by) == ("ended", "stopped")
    assert ("no longer written" in (running.snapshot.store or "")) == (wrong == "the store")
    with pytest.raises(CouldNot, match="over"):
        running.command("mark", timeout=0.0)
    if wrong == "the sink":
        assert load_outing(tmp_path / "a.outing").meta["ended"] == "stopped"


@pytest.mark.parametrize(
    ("percent", "water", "fault"),
    [
        (None, 5, None),
        (26, 5, None),
        (25, 11.9, "battery_cold"),
        (25, 12, None),
        (25, None, None),
        (15, None, "battery_low"),
        (8.1, 20, "battery_low"),
        (8, 20, "battery_stop"),
        (0, None, "battery_stop"),
    ],
)
def test_battery_limits(percent, water, fault):
    assert machine.battery_fault(percent, water) == fault


def test_a_full_disk_is_said_once_and_the_coach_goes_on(ride, tmp_path, monkeypatch):
    monkeypatch.setattr(machine, "FREE_BYTES_LOW", 1 << 60)
    running = build.live(open_source(str(ride)), tmp_path / "a.outing")
    running.run()
    outing = load_outing(tmp_path / "a.outing")
    assert [f.kind for f in outing.faults].count("disk_low") == 1 and len(outing.flights) >= 1


def test_no_thinning_without_need(ride, kept):
    assert writer_.DISK_LOW == 50 << 20 and "thinned" not in kept.meta


def test_a_lost_sound_device_is_a_fault_and_so_is_its_return(ride, tmp_path):
    sink = SilentSink()
    sink.name = "device:made up"
    here = build.Gate()
    running = build.live(build.Device(ride, stalls={50: here}), tmp_path / "a.outing", fast=False, sink=sink)
    running.start()
    build.until(running, here.reached.is_set)
    sink.reason = "pulled out"
    build.until(running, lambda: running._around.device_lost and running.snapshot.sink_reason == "pulled out")
    sink.reason = None
    build.until(running, lambda: not running._around.device_lost and running.snapshot.sink_reason is None)
    here.open.set()
    assert running.join(60)
    assert [f.kind for f in load_outing(tmp_path / "a.outing").faults if "device" in f.kind] == [
        "device_lost",
        "device_back",
    ]


def test_fast_sound_has_each_click_on_its_frame(tmp_path):
    """What would have been heard, rendered as fast as it goes: every click begins on the frame of its time."""
    from cadence_coach.live import Live

    ride = build.recording(tmp_path / "calm", "calm", 7, until=60.0)
    virtual = VirtualClock()
    sink = WavSink(str(tmp_path / "heard.wav"), 48000, clock=virtual)
    settings = Settings(lead="rider")
    clicks: list[ev.Click] = []
    running = Live(
        open_source(str(ride)), engine_of(settings, build.band()), build.band(), settings, sink, fast=virtual
    )
    heard = running.score.receive

    def listen(event: ev.Event) -> None:
        if isinstance(event, ev.Click):
            clicks.append(event)
        heard(event)

    running.score.receive = listen
    running.run()
    sound, rate = read_wav(tmp_path / "heard.wav")
    assert rate == 48000 and clicks and running.score.late == 0
    gain = 10 ** (running.score.mixer.volume_db / 20)
    rise = int(np.argmax(np.abs(cues.pcm("click", rate)) * gain > 0.002))
    alone = [c for c in clicks if not np.any(sound[round(c.time * rate) - 200 : round(c.time * rate)])]
    assert len(alone) >= max(3, len(clicks) // 3)  # the others begin while a cue sounds
    for click in alone:
        after = np.abs(sound[round(click.time * rate) :][:1500])
        assert abs(int(np.argmax(after > 0.002)) - rise) <= 1


def test_pieces_cut_at_steps_of_time_and_lose_nothing():
    rows = [(0, 0.01 * n, 0.0, 0.0, 9.8) for n in range(100)]
    rows[40] = (0, float("nan"), 0.0, 0.0, 9.8)
    rows[60] = (0, 0.1, 0.0, 0.0, 9.8)
    cut = list(pieces(rows))
    assert [r for p in cut for r in p] == rows
    assert max(len(p) for p in cut) <= 6 and len(cut) > 15
