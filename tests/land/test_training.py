"""A training with somebody who hears the clicks: the same engine live, in a file and again; what the ladder makes of
it."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from contextlib import ExitStack, suppress
from pathlib import Path

import attrs
import numpy as np
import pytest

from cadence_coach.core import events as ev
from cadence_coach.core.engine import Engine
from cadence_coach.core.settings import Settings
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.foil.band import band_table
from cadence_coach.foil.profile import demo_profile
from cadence_coach.land.engine import LandEngine, plain_plan, plan_from
from cadence_coach.land.plan import Plan
from cadence_coach.land.session import SetDone, SetStarted
from cadence_coach.land.tell import TEXTS, lines
from cadence_coach.live.begin import Plan as LivePlan
from cadence_coach.live.begin import begin, engine_for, rescue_all
from cadence_coach.live.on_phone import plan_of, plan_text
from cadence_coach.review.again import LISTS, again, from_rows
from cadence_coach.review.figures import look
from cadence_coach.review.ladder import score
from cadence_coach.review.restudy import study
from cadence_coach.review.season_row import season_row
from cadence_coach.sound.mixer import Mixer
from cadence_coach.sound.score import Score
from cadence_coach.sources.squats import LEAD_S, Mover
from cadence_coach.store.outing_file import load_outing
from cadence_coach.store.rescue import died

SETTINGS = Settings(start="land", lead="silent")
SHORT = Plan((90.0, 96.0), 2, set_s=8.0, rest_s=3.0)
RUNG = Plan((90.0,), 3, set_s=40.0, rest_s=10.0)
"""What the ladder's first rung asks for: 60 at 90 a minute, three sets."""


def engine(plan: Plan = SHORT) -> LandEngine:
    return LandEngine(Engine(SETTINGS, band_table(demo_profile().setup)), plan)


def trained(plan: Plan, seed: int = 1, late: float = 0.0, deaf: bool = False):
    """(events, rows) of a training, gone through at once; `late` moves the mover's ears, `deaf` has none."""
    mover, found, rows = Mover(seed), engine(plan), []
    if not deaf:
        found.heard = lambda clicks: mover.hear([t + late for t in clicks])
    found.command("start")
    events = []
    while not found.over:
        part = next(mover)
        rows += part
        found.receive(part)
        new = found.events()
        assert all(e.time <= part[-1][1] + 1e-9 for e in new if isinstance(e, SetDone))  # scored when all is known
        events += new
    found.end()
    return [*events, *found.events()], rows


def scores(events):
    return [e.score for e in events if isinstance(e, SetDone)]


def test_each_set_is_clicked_moved_and_scored() -> None:
    events, _ = trained(SHORT)
    one, two = scores(events)
    assert one.passed and two.passed and (one.moves, one.matched) == (8, 8)
    assert abs(one.lead_s - LEAD_S) < 0.015
    starts = [e for e in events if isinstance(e, SetStarted)]
    assert [round(e.tempo_per_min) for e in starts] == [90, 96]
    clicks = np.array([e.time for e in events if isinstance(e, ev.Click) and e.sound == "click"])
    assert np.allclose(np.diff(clicks[:12]), 60 / 90, atol=1e-9)


def test_a_mover_who_is_late_or_deaf_does_not_pass() -> None:
    """Late by a third of a beat is told as such; whoever stands still is told too."""
    late = scores(trained(SHORT, late=0.22)[0])[0]
    assert late.lead_s == pytest.approx(LEAD_S - 0.22, abs=0.02)
    deaf = scores(trained(SHORT, deaf=True)[0])
    assert [s.passed for s in deaf] == [False, False] and deaf[0].shortfalls == ("too_few",)


@pytest.mark.parametrize("pieces", [1, 7, 1000])
def test_cutting_the_stream_anywhere_changes_nothing(pieces: int) -> None:
    _, rows = trained(SHORT)
    whole, cut = engine(), engine()
    whole.command("start")
    cut.command("start")
    whole.receive(rows)
    for at in range(0, len(rows), pieces):
        cut.receive(rows[at : at + pieces])

    def by_kind(found):
        events = found.events()
        return {kind: [e for e in events if type(e) is kind] for kind in {type(e) for e in events}}

    assert by_kind(whole) == by_kind(cut)


def test_three_sets_of_sixty_reach_the_rung_and_are_no_flights() -> None:
    _, rows = trained(RUNG)
    fresh = engine(RUNG)
    fresh.command("start")
    outing = from_rows([rows], fresh)
    outing = attrs.evolve(outing, settings=SETTINGS.plain())
    found = score(look(outing, None))[0]
    assert found.key == "land_beat" and found.passed and found.best > 0.97
    row = season_row(outing)
    assert row.flights == () and row.pumps == 0
    _, short = trained(Plan((90.0,), 3, set_s=36.0, rest_s=10.0))
    shorter = engine(Plan((90.0,), 3, set_s=36.0, rest_s=10.0))
    shorter.command("start")
    assert not score(look(attrs.evolve(from_rows([short], shorter), settings=SETTINGS.plain()), None))[0].passed


def test_a_warning_in_a_rest_is_heard_at_once() -> None:
    """The end of a long rest is said when it is due: no warning has to wait for it."""
    found, mixer = engine(Plan((90.0,), 2, set_s=5.0, rest_s=60.0)), Mixer()
    placed: list[float] = []
    place = mixer.place
    mixer.place = lambda pcm, frame, *more: placed.append(frame / mixer.rate) or place(pcm, frame, *more)  # type: ignore
    sound = Score(mixer, lambda t: round(t * mixer.rate))
    found.command("start")
    cues: dict[str, tuple[float, float]] = {}
    for n in range(1700):
        t = 0.05 * n
        found.receive([(ev.ACCEL, t + 0.01 * k, 0.0, 0.0, 9.81 + 0.02 * (k % 2)) for k in range(5)])
        if n == 600:
            found.command("fault", kind="battery_stop")
        for event in found.events():
            sound.receive(event)
            if isinstance(event, ev.Cue):
                cues[event.kind] = t, placed[-1]
    assert set(cues) == {"battery_stop", "rest_over"}
    assert all(0.0 <= t + 0.05 - heard < 0.1 for t, heard in cues.values())
    assert cues["battery_stop"][0] == pytest.approx(30.0) and cues["rest_over"][0] > 60.0


def test_a_stamp_astray_ends_no_training() -> None:
    _, rows = trained(SHORT)
    whole, odd = engine(), engine()
    for one in (whole, odd):
        one.command("start")
        for at in range(0, len(rows), 5):
            part = rows[at : at + 5]
            one.receive([*part, (ev.ACCEL, 2000.0, 0.0, 0.0, 9.8)] if one is odd and at == 1000 else part)
    assert [(s.moves, s.passed) for s in scores(odd.events())] == [(s.moves, s.passed) for s in scores(whole.events())]


def test_a_plan_goes_through_json_and_a_broken_one_is_refused() -> None:
    assert plan_from(json.loads(json.dumps(plain_plan(SHORT)))) == SHORT
    assert plan_of(plan_text(SETTINGS, land=SHORT, volume_db=-20.0)).land == SHORT
    for broken in ({}, {"tempos": [1.0], "sets": 1}, {"tempos": "x"}, []):
        with pytest.raises(Refused, match="no plan of a training"):
            plan_from(broken)


def test_live_it_is_kept_shown_and_gives_the_same_again(tmp_path, monkeypatch) -> None:
    """In real time through the shell: what the screen sees, what the file holds, and the same from a replay."""
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path))
    with ExitStack() as stack:
        live = begin(LivePlan("squats:1", SETTINGS, land=Plan((120.0,), 1, set_s=5.0, rest_s=1.0)), stack)
        live.start()
        seen = []
        while not live.join(0.2):
            land = live.snapshot.land
            if land is not None:
                seen.append((land["set"], land["moves"], len(land["scores"]), land["over"]))
                if land["over"]:
                    with suppress(CouldNot):  # asked for once more while it ends
                        live.command("stop")
    assert (1, 0, 0, False) in seen and seen[-1] in ((1, 9, 1, True), (1, 10, 1, True))
    assert json.dumps(live.snapshot.plain()) and live.snapshot.sink_trouble["late_clicks"] == 0
    outing = load_outing(live.snapshot.file)
    assert outing.settings["start"] == "land" and plan_from(outing.meta["land"]).tempos == (120.0,)
    anew = again(outing, engine_for(outing))
    for name in LISTS.values():
        assert getattr(anew, name) == getattr(outing, name), name
    told = study(live.snapshot.file)
    assert told.error is None and told.outing["flights"] == 0


def test_killed_in_the_middle_it_is_made_whole(tmp_path, monkeypatch) -> None:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path))
    told = json.loads(plan_text(SETTINGS, land=Plan((120.0,), 2, set_s=20.0, rest_s=5.0)))
    process = subprocess.Popen(
        [sys.executable, "-m", "cadence_coach.live.on_desktop"],
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        cwd=Path(__file__).parents[2],
    )
    process.stdin.write(json.dumps({**told, "source": "squats:1", "sound": "silent"}).encode())
    process.stdin.close()
    until = time.monotonic() + 60.0
    files: list[Path] = []
    while not (files and load_cycles(files[0]) >= 4):
        assert time.monotonic() < until and process.poll() is None
        time.sleep(0.3)
        files = list((tmp_path / "outings").glob("*.outing"))
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    assert died(files[0])
    assert rescue_all(most_bytes=None) == files
    outing = load_outing(files[0])
    assert outing.meta["rescued_whole"] and len(outing.cycles) >= 4
    assert len([c for c in outing.clicks if c.sound == "click"]) == 40


def load_cycles(path: Path) -> int:
    try:
        return len(load_outing(path).cycles)
    except Exception:  # in its first moments
        return 0


def test_scores_in_both_languages_have_the_same_keys() -> None:
    assert set(TEXTS["en"]) == set(TEXTS["de"])
    one = scores(trained(SHORT)[0])[0]
    english, german = lines(one, 0.5), lines(one, 0.5, "de")
    assert len(english) == len(german) == 6 and german[-1] == "geschafft" and "Gleichklang 0,99" in german[1] + "0,99"
