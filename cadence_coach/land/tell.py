"""A set's score in words and one line of picture, for a terminal and for files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from cadence_coach.land.plan import Plan
from cadence_coach.land.score import SetScore

USUAL_LEAD_S = (0.02, 0.08)
"""People who move with a beat are ahead of it by so much (Repp 2005, from memory): nothing to correct."""
BINS = 31
BARS = " ▁▂▃▄▅▆▇█"
SHORTFALLS = {
    "too_few": "too few movements to say more",
    "every_second": "one movement to every second click: halve the tempo, or move with each click",
    "missed": "clicks without a movement",
    "faster": "faster than the clicks",
    "slower": "slower than the clicks",
    "uneven": "uneven from one to the next",
    "loose": "not at one place of the beat",
}


def strip(offsets: Sequence[float], period: float) -> str:
    """Where in the beat the movements began: half a beat ahead to half a beat behind the click, which is the middle."""
    counts = [0] * BINS
    for off in offsets:
        counts[min(BINS - 1, max(0, int((off / period + 0.5) * BINS)))] += 1
    most = max(counts) or 1
    bars = [BARS[-(-count * (len(BARS) - 1) // most)] for count in counts]
    return f"ahead |{''.join(bars[: BINS // 2])}[{bars[BINS // 2]}]{''.join(bars[BINS // 2 + 1 :])}| behind"


def lines(score: SetScore, wanted_share: float | None) -> list[str]:
    """The score of one set, at most six lines."""
    out = [f"{score.moves} movements on {score.clicks} clicks, {score.missed} missed, {score.extra} too many"]
    if score.lock_r is not None and score.cadence_per_min is not None and score.steadiness is not None:
        where = "place in the beat not known (no common clock)"
        if score.lead_s is not None:
            where = f"{abs(score.lead_s) * 1000:.0f} ms {'ahead of' if score.lead_s >= 0 else 'behind'} the click"
            if USUAL_LEAD_S[0] <= score.lead_s <= USUAL_LEAD_S[1]:
                where += " (as most people are)"
        chance = score.v_p if score.v_p is not None else score.rayleigh_p
        test = "V test" if score.v_p is not None else "Rayleigh"
        out.append(f"lock {score.lock_r:.2f}, {where}; by chance: p {chance:.1g} ({test})")
        out.append(
            f"cadence {score.cadence_per_min:.1f} a minute of {score.tempo_per_min:.1f}, steady within "
            f"{100 * score.steadiness:.1f} %"
        )
    if score.push_share is not None:
        wanted = f", the tick is at {100 * wanted_share:.0f} %" if wanted_share is not None else ""
        out.append(f"push share {100 * score.push_share:.0f} %{wanted}")
    if score.offsets_s:
        out.append(strip(score.offsets_s, 60 / score.tempo_per_min))
    out.append("passed" if score.passed else "again: " + "; ".join(SHORTFALLS[s] for s in score.shortfalls))
    return out


def plain(plan: Plan, sets: Sequence[tuple[int, float, SetScore | None]]) -> dict[str, Any]:
    """Everything as it goes into JSON; `sets` are (number, first click [s], score)."""
    found = []
    for number, first, score in sets:
        body = {} if score is None else asdict(score)
        if score is not None:
            body |= {"missed": score.missed, "passed": score.passed, "shortfalls": list(score.shortfalls)}
            body["offsets_s"] = list(score.offsets_s)
        found.append({"number": number, "first_click_s": first, "measured": score is not None} | body)
    return {
        "format": "cadence-coach-land/1",
        "tempos_per_min": list(plan.tempos),
        "set_s": plan.set_s,
        "rest_s": plan.rest_s,
        "push_share": plan.push_share,
        "sets": found,
    }
