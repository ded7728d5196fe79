"""`land` with a sensor that listens: the same shell as on the water, a score after each set, an outing file at the
end."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from typing import Any

from cadence_coach.land.plan import Plan


def listen(
    plan: Plan, source: str, sound: str, volume: float, notes: bool, lang: str, yes: bool, quiet: bool, keep: bool
) -> dict[str, Any]:
    """The training in real time; what goes into JSON. Ctrl-C ends it, and what was done is kept."""
    from cadence_coach.commands.naming import look_at
    from cadence_coach.commands.ticking import tick
    from cadence_coach.core.settings import Settings
    from cadence_coach.live.begin import Plan as LivePlan
    from cadence_coach.live.begin import begin
    from cadence_coach.sound.loudness import HEARING_LINE

    look_at(source)
    if not yes:
        tick("land", lang, "says that it has been read")
    settings = Settings(start="land", lead="silent")
    with ExitStack() as stack:
        chosen = LivePlan(source, settings, sound=sound, lang=lang, keep=keep, land=plan, volume_db=volume)
        live = begin(chosen, stack)
        if not quiet:
            print(f"Sound: {live.sink.name} at {volume:g} dB. {HEARING_LINE}")
            if live.sink.reason:
                print(f"No sound: {live.sink.reason}")
        _follow(live, plan, notes, lang, quiet)
        shown = live.snapshot
    found = _plain(plan, (shown.land or {}).get("scores", []))
    return found | {"sink": shown.sink, "trouble": shown.sink_trouble, "outing": shown.file}


def _follow(live: Any, plan: Plan, notes: bool, lang: str, quiet: bool) -> None:
    from cadence_coach.errors import CouldNot

    done = 0
    live.start()
    _notes(1, notes and not quiet, lang)
    try:
        while not live.join(0.1):
            land = live.snapshot.land or {}
            for score in land.get("scores", [])[done:]:
                done += 1
                if not quiet:
                    _show(done, plan, score, lang)
                if done < plan.sets:
                    _notes(done + 1, notes and not quiet, lang)
            if land.get("over"):
                live.command("stop")
    except KeyboardInterrupt:
        live.command("stop")
        live.join()
    except CouldNot:
        live.join()  # it ended by itself in that moment
    if not quiet and live.snapshot.file:
        print(f"Kept: {Path(live.snapshot.file)}")


def _show(number: int, plan: Plan, score: dict[str, Any] | None, lang: str) -> None:
    from cadence_coach.commands.land import show_set
    from cadence_coach.live.training import score_from

    if score is None:
        print(f"Set {number} of {plan.sets}: nothing heard")
        return
    found = score_from(score)
    show_set(number, plan.sets, found.tempo_per_min, found, plan.push_share, lang)


def _plain(plan: Plan, scores: list[dict[str, Any] | None]) -> dict[str, Any]:
    from cadence_coach.land.tell import plain
    from cadence_coach.live.training import score_from

    rows = [(n, None, None if s is None else score_from(s)) for n, s in enumerate(scores, start=1)]
    return plain(plan, rows)  # type: ignore[arg-type]


def _notes(number: int, wanted: bool, lang: str) -> None:
    from cadence_coach.land.notes import note_lines

    if wanted:
        print("\n".join(note_lines(number, lang)), flush=True)
