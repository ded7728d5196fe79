"""`land` with a recording: the same detector as on the water, then the score of each set."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from cadence_coach.core import events as ev
from cadence_coach.land.plan import Plan


def movements(recording: str) -> tuple[list[ev.Event], float]:
    """Onsets and whole cycles of a recording, in order, and the time of its first row [s] on its own clock."""
    from cadence_coach.sources import open_whole

    source = open_whole(recording)  # first: a name that is none is said before anything is loaded
    from cadence_coach.core.engine import Engine
    from cadence_coach.core.settings import Settings
    from cadence_coach.foil.band import band_table
    from cadence_coach.foil.profile import demo_profile

    engine = Engine(Settings(start="land", lead="silent"), band_table(demo_profile().setup))
    found: list[ev.Event] = []
    try:
        for rows in source:
            engine.receive(rows)
            found += (e for e in engine.events() if isinstance(e, ev.Onset | ev.CycleDone))
        engine.end()
        found += (e for e in engine.events() if isinstance(e, ev.Onset | ev.CycleDone))
    finally:
        source.close()
    return found, source.start_s


def score_recording(
    plan: Plan,
    recording: str,
    first_click: float | None,
    pictures: Path | None,
    quiet: bool,
    keep: bool = False,
    lang: str = "en",
) -> dict[str, Any]:
    """Goes through a recording set by set; shows, draws, keeps, and returns what goes into JSON."""
    from cadence_coach.commands.land import show_set
    from cadence_coach.errors import CouldNot
    from cadence_coach.land.score import Move
    from cadence_coach.land.session import Session, SetDone, SetStarted, align
    from cadence_coach.land.tell import plain

    events, start_s = movements(recording)
    onsets = [e for e in events if isinstance(e, ev.Onset)]
    if not onsets:
        raise CouldNot(f"{recording}: no squat or hop found in it; wear the phone on the body, not in a loose bag")
    begin = align([Move(e.time) for e in onsets], plan) if first_click is None else first_click - start_s
    session = Session(plan, begin, listening=True, same_clock=first_click is not None, climb=True)
    events.sort(key=lambda e: e.known)
    out: list[ev.Event] = []
    for event in events:
        session.advance(event.known)
        session.receive(event)
        out += session.events()
    while not session.over and session.deadline <= events[-1].known + plan.set_s:
        session.advance(session.deadline)
        out += session.events()
    firsts = {e.number: e for e in out if isinstance(e, SetStarted)}
    rows = []
    for done in (e for e in out if isinstance(e, SetDone)):
        if done.score is None or done.score.moves == 0:
            continue
        started = firsts[done.number]
        rows.append((done.number, started.time + start_s, done.score))
        if not quiet:
            show_set(done.number, plan.sets, started.tempo_per_min, done.score, plan.push_share, lang)
        if pictures is not None:
            from cadence_coach.commands.land_picture import draw

            draw(done.score, done.number, pictures / f"set-{done.number}.png")
    if not rows:
        raise CouldNot(f"{recording}: nothing in it falls into a set of this plan; give the plan it was trained with")
    if not quiet and first_click is None:
        print("Clicks were fitted to the recording: lock and steadiness hold, the place in the beat is not known.")
    if not quiet and pictures is not None:
        print(f"Drawn: {len(rows)} pictures in {pictures}")
    found = plain(plan, rows) | {"recording": recording, "clock": "given" if first_click is not None else "fitted"}
    if keep:
        path, done = kept(plan, recording, begin, fitted=first_click is None)
        found["outing"] = str(path) if done else None
        if not quiet:
            print(f"Kept: {path}" if done else _not_kept(path))
    return found


def _not_kept(path: Path) -> str:
    return (
        f"Not kept: {path} holds this recording as an outing on the water, or with the clicks that were heard, and "
        "stays as it is; if it is to be this training, move that file elsewhere and score again"
    )


def kept(plan: Plan, recording: str, begin: float, fitted: bool) -> tuple[Path, bool]:
    """The recording as an outing with the clicks of its training, for the ladder: its file, and whether it holds that.
    One that was scored before is written anew with this plan; an outing on the water of the same recording stays, and
    so does the training that it was exported of."""
    import attrs

    from cadence_coach.commands.taking import known, name_for, named_in
    from cadence_coach.core.settings import Settings
    from cadence_coach.foil.band import band_table
    from cadence_coach.foil.profile import demo_profile
    from cadence_coach.land.engine import LandEngine, plain_plan
    from cadence_coach.live.begin import engine_of
    from cadence_coach.review.again import from_rows
    from cadence_coach.review.figures import armed
    from cadence_coach.sources import open_whole
    from cadence_coach.store.convert import source_meta
    from cadence_coach.store.folders import outings_folder
    from cadence_coach.store.once_more import changed, with_what_was_said
    from cadence_coach.store.outing import FITTED, Outing
    from cadence_coach.store.outing_file import save_outing

    settings = Settings(start="land", lead="silent")
    source = open_whole(recording)
    try:
        engine = LandEngine(engine_of(settings, band_table(demo_profile().setup)), plan, begin, climb=True)
        outing = from_rows(source, engine, None, source.meta)
        meta = {"source": source_meta(source), "ended": "end_of_data", "land": plain_plan(plan)}
    finally:
        source.close()
    if fitted:
        meta["click_clock"] = FITTED
    ident = named_in(source.meta) or outing.uuid
    outing = attrs.evolve(outing, uuid=ident, settings=settings.plain(), meta={**outing.meta, **meta})
    folder = outings_folder()
    if (there := known(outing.uuid, folder)) is None:
        return save_outing(outing, folder / name_for(outing)), True

    def anew(old: Outing) -> Outing | None:
        on_land = "land" in old.meta or armed(old) == "land"
        return with_what_was_said(outing, old, ()) if on_land and not old.commands else None

    return there, changed(there, anew) is not None
