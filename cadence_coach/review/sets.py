"""A training on land looked back on: its sets, and what to do next. On the water there are flights instead."""

from __future__ import annotations

from dataclasses import replace

from cadence_coach.core import events as ev
from cadence_coach.land.score import Move, SetScore, score_set
from cadence_coach.land.session import AFTER_S
from cadence_coach.land.tell import heading, lines
from cadence_coach.review.advising import Advice
from cadence_coach.review.say import say
from cadence_coach.store.outing import FITTED, Outing


def set_scores(outing: Outing) -> list[SetScore]:
    """The sets of a training that was kept, scored again from its clicks and movements."""
    clicks = [c for c in outing.clicks if c.sound == "click"]
    sets: list[list[ev.Click]] = []
    for click in clicks:
        if sets and click.time - sets[-1][-1].time < click.period * 1.5:
            sets[-1].append(click)
        else:
            sets.append([click])
    found, same_clock = [], outing.meta.get("click_clock") != FITTED
    for one in sets:
        until = one[-1].time + one[-1].period + AFTER_S
        inside = [c for c in outing.cycles if one[0].time - 1.0 <= c.onset <= until]
        moves = [Move(c.onset, c.push_end, c.time) for c in inside]
        if len(one) > 1 and len(outing.accel) and outing.accel[-1, 0] > one[0].time:
            found.append(score_set([c.time for c in one], moves, same_clock))
    return found


def sets_advice(outing: Outing) -> Advice:
    """How many sets passed, and what comes next. No focus: what is set for the water is not chosen on land."""
    scores = set_scores(outing)
    if not scores:
        return Advice("none", None, say("land_none_says"), (say("land_none_why"),), say("land_none_practise"))
    passed = sum(s.passed for s in scores)
    practise = say("land_next_practise" if passed == len(scores) else "land_again_practise")
    why = ()
    if locks := [s.lock_r for s in scores if s.lock_r is not None]:
        why = (say("land_why", lock=max(locks)),)
    return Advice("land", None, say("land_says", passed=passed, n=len(scores)), why, practise)


def told_sets(outing: Outing, lang: str, *, drawn: bool = True) -> list[tuple[str, list[str]]]:
    """Heading and lines of each set, as they were told when it was done; drawn: with the line that is a picture, for
    letters of one width."""
    scores, plan = set_scores(outing), outing.meta.get("land") or {}
    shown = scores if drawn else [replace(s, offsets_s=()) for s in scores]
    share = plan.get("push_share")
    return [(heading(n, len(shown), s.tempo_per_min, lang), lines(s, share, lang)) for n, s in enumerate(shown, 1)]
