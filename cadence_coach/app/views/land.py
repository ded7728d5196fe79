"""On land: what is chosen and ticked before, and what a training shows while it goes on. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import attrs

from cadence_coach.app.link import Line
from cadence_coach.app.views import blocks as b
from cadence_coach.app.views import charts
from cadence_coach.app.views.back import PageView, set_card
from cadence_coach.app.views.water import why_ended
from cadence_coach.app.words import Words
from cadence_coach.core.targets import Band
from cadence_coach.land.notes import note_lines
from cadence_coach.land.plan import HIGHEST_PER_MIN, LOWEST_PER_MIN, Plan, towards
from cadence_coach.live.reasons import reason
from cadence_coach.live.snapshot import Snapshot
from cadence_coach.live.training import score_from
from cadence_coach.safety import heading, points

RUNG, TARGET, OWN = "rung", "target", "own"
LENGTHS_S = (20.0, 40.0, 60.0)
RUNG_PLAN = {"tempos": (90.0,), "sets": 3, "set_s": 40.0, "rest_s": 120.0}
"""What the ladder's first rung asks for: 60 at 90 a minute, three sets, two minutes between them."""
OWN_SETS, OWN_REST_S = 3, 60.0

MODE, TEMPO, LENGTH, PUSH_TICK, START = "mode", "tempo", "length", "push_tick", "start"
STOP, LOOK, AGAIN, RESCUE, RIDING = "stop", "look", "again", "rescue", "riding"
POINT = "point:"


@attrs.frozen
class Chosen:
    """How the training shall be; `tempo` as typed."""

    mode: str = RUNG
    tempo: str = "90"
    set_s: float = 40.0
    push_tick: bool = True

    @classmethod
    def from_plain(cls, plain: Any) -> Chosen:
        """What was kept; the defaults for what is none."""
        told = plain if isinstance(plain, Mapping) else {}
        mode = told.get("mode")
        return cls(
            mode if mode in (RUNG, TARGET, OWN) else RUNG,
            str(told.get("tempo", "90"))[:6],
            told["set_s"] if told.get("set_s") in LENGTHS_S else 40.0,
            told.get("push_tick") is not False,
        )


def tempo_of(text: str) -> float | None:
    """A tempo as it was typed, with a point or a comma; None where it is none that a training can have."""
    try:
        tempo = float(text.strip().replace(",", "."))
    except ValueError:
        return None
    return tempo if LOWEST_PER_MIN <= tempo <= HIGHEST_PER_MIN else None


def mode_of(chosen: Chosen, band: Band | None) -> str:
    """The mode that is shown as chosen and that starts: without a band there are no tempos that lead to its target."""
    return RUNG if chosen.mode == TARGET and (band is None or band.target is None) else chosen.mode


def plan(chosen: Chosen, band: Band | None) -> Plan | None:
    """The plan of what was chosen; None while a tempo is missing. band: at the rider's cruise speed."""
    mode = mode_of(chosen, band)
    share = 0.5 if band is None or band.share is None else band.share
    share_or_none = share if chosen.push_tick else None
    if mode == RUNG:
        return Plan(push_share=share_or_none, **RUNG_PLAN)  # type: ignore[arg-type]
    if mode == TARGET:
        tempos = towards(60.0 * band.target)
        return Plan(tempos, len(tempos), chosen.set_s, OWN_REST_S, share_or_none)
    tempo = tempo_of(chosen.tempo)
    return None if tempo is None else Plan((tempo,), OWN_SETS, chosen.set_s, OWN_REST_S, share_or_none)


def before(
    chosen: Chosen,
    ticked: frozenset[str],
    band: Band | None,
    words: Words,
    trouble: str = "",
    *,
    goes_on: bool = False,
) -> PageView:
    """What is chosen, and the safety list, each point ticked by hand every time. goes_on: an outing does; beside it
    no training can start."""
    modes = [(RUNG, words("land.rung")), (OWN, words("land.own"))]
    if band is not None and band.target is not None:
        tempos = towards(60.0 * band.target)
        said = f"{words.number(tempos[0])} – {words.number(tempos[-1])}"
        modes.insert(1, (TARGET, words("land.target", tempos=said)))
    mode = mode_of(chosen, band)
    choice: list[b.Block | None] = [b.Text(words("land.tempo"), "lead"), b.Pick(MODE, tuple(modes), mode)]
    if mode == OWN:
        bounds = {"lo": f"{LOWEST_PER_MIN:.0f}", "hi": f"{HIGHEST_PER_MIN:.0f}"}
        wrong = "" if tempo_of(chosen.tempo) is not None else words("land.bad_tempo", **bounds)
        choice.append(b.Write(TEMPO, words("land.own_tempo"), chosen.tempo, number=True, trouble=wrong))
    if mode != RUNG:
        lengths = tuple((f"{s:.0f}", words("land.seconds", n=f"{s:.0f}")) for s in LENGTHS_S)
        choice += [b.Text(words("land.set_length")), b.Pick(LENGTH, lengths, f"{chosen.set_s:.0f}")]
    choice.append(b.Tick(PUSH_TICK, words("land.tick"), chosen.push_tick))
    listed = points("land", words.lang)
    ready = all(key in ticked for key, _ in listed) and plan(chosen, band) is not None
    start = [b.Push(START, words("land.start"), "strong") if ready else b.Text(words("land.tick_all"), muted=True)]
    if goes_on:
        start = [b.Text(words("before.goes_on")), b.Go(RIDING, words("home.riding"), words("home.riding_sub"))]
    return PageView(
        words("home.land"),
        (
            b.Text(words("land.what")),
            b.group(*choice),
            b.head(words("land.safe")),
            b.Text(heading(words.lang), "small", True),
            *(b.Tick(POINT + key, text, key in ticked) for key, text in listed),
            *((b.Text(trouble),) if trouble else ()),
            *start,
        ),
    )


def going(line: Line, words: Words) -> PageView:
    """The training as the engine tells it now."""
    shown = line.snapshot
    land = shown.land if shown is not None else None
    title = words("home.land")
    if line.kind == "gone":
        rescue = b.Push(RESCUE, words("land.rescue"), "strong")
        return PageView(title, (b.Text(words("land.gone"), "lead"), rescue))
    if line.kind == "failed":
        why = words("land.not_started", why=reason(line.why, words.lang) or words("water.failed_more"))
        return PageView(title, (b.Text(why), b.Push(AGAIN, words("land.again"), "strong")))
    if shown is not None and land is not None and (line.kind == "ended" or land["over"]):
        return PageView(title, _over(land, shown, words))
    if line.kind == "ended" or shown is None or land is None:
        more = words("land.coming_more")
        return PageView(title, (b.Text(words("land.coming"), "title"), b.Text(more, muted=True)))
    blocks = _resting(land, shown.time_s, words) if land["first_s"] is None else _moving(land, shown.time_s, words)
    if shown.sensor not in ("ok", "waiting"):
        blocks.insert(1, b.Text(words("land.no_sensor")))
    if shown.sink_reason:
        blocks.insert(1, b.Text(words("land.no_sound", why=reason(shown.sink_reason, words.lang)), "small", True))
    return PageView(title, (*blocks, b.HoldOn(STOP, words("land.stop"))))


def _resting(land: dict[str, Any], now: float, words: Words) -> list[b.Block]:
    """Between sets, and before the first: how long, what comes, how the last one was."""
    first = land["set"] == 0
    wait = max(0.0, (land["next_s"] or now) - now)
    out: list[b.Block] = [
        b.Text(words("land.stand" if first else "land.rest"), "title"),
        b.Numbers(
            (
                (f"{wait:.0f} s", words("land.first_set_in" if first else "land.next_in")),
                (words.number(land["tempo_per_min"]), words("land.tempo_was")),
            )
        ),
    ]
    if not first and land["scores"][-1] is not None:
        out.append(set_card(land["set"], land["sets"], score_from(land["scores"][-1]), words))
    said = note_lines(land["set"] + 1, words.lang)
    out.append(b.group(b.Text(said[0], "lead"), *(b.Text(line.strip()) for line in said[1:])))
    return out


def _moving(land: dict[str, Any], now: float, words: Words) -> list[b.Block]:
    """A set: how long still, and where the movements fall."""
    counting = now < land["first_s"]
    left = max(0.0, land["ends_s"] - max(now, land["first_s"]))
    half = 30.0 / land["tempo_per_min"]
    return [
        b.Text(words("land.count_in" if counting else "land.go"), "title"),
        b.Text(words("land.set_of", set=land["set"], sets=land["sets"]), muted=True),
        b.Numbers(
            (
                (f"{left:.0f} s", words("land.left")),
                (words.number(land["tempo_per_min"]), words("land.tempo_was")),
                (f"{land['moves']}", words("land.done_moves")),
            )
        ),
        b.Picture(charts.strip(land["offsets_s"], half, words), words("land.strip"), 200.0),
    ]


def _over(land: dict[str, Any], shown: Snapshot, words: Words) -> tuple[b.Block, ...]:
    scores = [score_from(s) if s is not None else None for s in land["scores"]]
    passed = sum(s is not None and s.passed for s in scores)
    cards = [set_card(n, land["sets"], s, words) for n, s in enumerate(scores, start=1) if s is not None]
    return (
        b.Text(words("land.over"), "title"),
        b.Text(words("land.passed", n=passed, all=len(scores)), "lead"),
        *(b.Text(line) for line in why_ended(shown, words)),
        b.Text(words("land.over_more"), muted=True),
        *cards,
        *((b.Push(LOOK, words("land.look"), "strong"),) if shown.file else ()),
        b.Push(AGAIN, words("land.again")),
    )
