"""A training from movements to clicks and scores: one after the other, in any pieces."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest

from cadence_coach.core import events as ev
from cadence_coach.land.plan import COUNT_IN, Plan, ladder, next_rung, towards
from cadence_coach.land.score import Move
from cadence_coach.land.session import Session, SetDone, SetStarted, align


def run(session: Session, rider=None, step: float = 0.05) -> list[ev.Event]:
    """Step by step, as live; `rider(click)` gives the onset for a click, or None."""
    out, now, number = [], 0.0, 0
    waiting: list[tuple[float, ev.Event]] = []
    while not session.over and now < 10000:
        session.advance(now)
        for event in session.events():
            out.append(event)
            if rider and isinstance(event, ev.Click) and event.sound == "click":
                onset = rider(event)
                if onset is not None:
                    waiting.append((onset + 0.06, ev.Onset(onset, onset + 0.06, number)))
                    number += 1
        for at, event in [w for w in waiting if w[0] <= now]:
            session.receive(event)
            waiting.remove((at, event))
        now += step
    return out + session.events()


def test_clicks_and_ticks_are_exact_for_any_step():
    plan = Plan((90.0, 100.0), 2, set_s=20, rest_s=15, push_share=0.45)
    fine = run(Session(plan, listening=False), step=0.01)
    coarse = run(Session(plan, listening=False), step=1.7)
    assert fine == coarse
    starts = [e for e in fine if isinstance(e, SetStarted)]
    assert [s.tempo_per_min for s in starts] == [90, 100]
    for start in starts:
        period = 60 / start.tempo_per_min
        mine = [e for e in fine if isinstance(e, ev.Click) and start.known <= e.time <= start.ends + period]
        by_sound = {s: [e.time for e in mine if e.sound == s] for s in ("count_in", "click", "tick")}
        assert by_sound["count_in"] == [start.known + k * period for k in range(COUNT_IN)]
        assert by_sound["click"] == [start.time + k * period for k in range(plan.beats(start.tempo_per_min))]
        assert by_sound["tick"] == [c + 0.45 * period for c in by_sound["click"]]
    assert starts[1].known == pytest.approx(starts[0].ends + 60 / 90 + 15)
    over = [e for e in fine if isinstance(e, ev.Cue)]
    assert [e.kind for e in over] == ["rest_over"] and starts[0].ends < over[0].time < starts[1].known


def test_a_rider_who_locks_climbs_and_one_who_does_not_steps_back():
    plan = Plan((80.0, 88.0, 96.0), 6, set_s=20, rest_s=5)
    rng = random.Random(5)
    done = [e for e in run(Session(plan), lambda c: c.time + rng.gauss(0, 0.015)) if isinstance(e, SetDone)]
    assert [e.rung for e in done] == [0, 1, 2, 2, 2, 2]
    assert all(e.score.passed for e in done) and done[-1].last

    def loses_it_at_96(click: ev.Click) -> float:
        return click.time + rng.gauss(0, 0.015 if click.period > 0.65 else 0.12)

    done = [e for e in run(Session(plan), loses_it_at_96) if isinstance(e, SetDone)]
    assert [e.rung for e in done] == [0, 1, 2, 2, 1, 2]


def test_without_a_sensor_it_climbs_by_itself():
    done = [e for e in run(Session(Plan((80.0, 90.0), 3, 10, 5), listening=False)) if isinstance(e, SetDone)]
    assert [(e.rung, e.score) for e in done] == [(0, None), (1, None), (1, None)]


def test_a_listening_session_with_nobody_moving_says_so():
    done = [e for e in run(Session(Plan((80.0,), 1, 10, 5))) if isinstance(e, SetDone)]
    assert done[0].score.shortfalls == ("too_few",)


def test_rungs():
    assert ladder("80:104:6") == (80, 86, 92, 98, 104)
    assert ladder("0.1:0.5:0.1")[-1] == pytest.approx(0.5)
    assert ladder("90,84") == (90, 84)
    for wrong in ("", "a:b:c", "80:70:5", "80:90:0", "1:2", "80:900:1", "nan:90:5"):
        with pytest.raises(ValueError, match="give FROM:TO:STEP"):
            ladder(wrong)
    rungs = towards(100)
    assert 100.0 in rungs and rungs.index(100.0) == len(rungs) - 2
    assert all(1.055 < b / a < 1.065 for a, b in pairwise(rungs))
    assert next_rung(3, []) == 0
    assert next_rung(3, [(0, False), (0, False)]) == 0
    assert next_rung(3, [(1, False), (1, True), (2, False)]) == 2


def test_plans_that_make_no_sense_are_refused():
    for broken in (
        {"tempos": ()},
        {"tempos": (20.0,)},
        {"sets": 0},
        {"set_s": 1},
        {"rest_s": -1},
        {"push_share": 0.95},
        {"set_s": float("nan")},
    ):
        with pytest.raises(ValueError, match=r"choose|give one"):
            Plan(**{"tempos": (90.0,), "sets": 1} | broken)


@pytest.mark.parametrize("begin", [0.0, 13.37, 250.2])
def test_a_recording_without_a_common_clock_is_fitted(begin):
    """Movement with the clicks inside the sets, walking about in the rests: found to a quarter of a beat."""
    plan = Plan((84.0, 92.0, 100.0), 3, set_s=20, rest_s=20)
    rng = random.Random(6)
    session = Session(plan, begin, listening=False)
    while not session.over:
        session.advance(session.deadline)
    onsets = [rng.uniform(0, begin + 140) for _ in range(30)]
    onsets += [e.time + 0.03 + rng.gauss(0, 0.02) for e in session.events() if getattr(e, "sound", "") == "click"]
    found = align([Move(t) for t in sorted(onsets)], plan)
    assert abs(found - begin) < 0.25 * 60 / 84
