"""An outing whose program died between two commits: what its samples lead to is added, what it holds is kept."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from cadence_coach.core import events as ev
from cadence_coach.core.engine import Engine
from cadence_coach.errors import Refused
from cadence_coach.store import schema
from cadence_coach.store.outing import Command
from cadence_coach.store.outing_file import load_outing, save_outing
from cadence_coach.store.rescue import rescue, rescue_folder
from tests.core.streams import bounce
from tests.store import made
from tests.store.test_writer import writer

UNTOLD = 700
"""So many rows at the end were written before what they led to."""


def stream() -> list[ev.Row]:
    """20 s of bouncing with a fix a second."""
    fixes = [(ev.FIX, k + 0.5, k + 0.25, 4.5, 54.0, 10.0, 0.3, 90.0) for k in range(20)]
    return sorted([*bounce(20.0), *fixes], key=lambda row: (row[1], row[0]))


def died(tmp_path: Path, command: Command | None = None, wrong: bool = False, **meta: object) -> tuple[Path, list]:
    """Its file, and all that the engine said to the same rows up to their end. wrong: an event is stored that no replay
    says."""
    rows, engine, live = stream(), Engine(), []
    out = writer(tmp_path / "live.outing", **meta)
    told = Command(100, 1.0, "mute", {"on": True})
    for n in range(0, len(rows), 50):
        if n == told.after_rows:
            engine.command(told.name, **told.given)
        engine.receive(rows[n : n + 50])
        said = engine.events()
        live += said
        if wrong and n == 0:
            said = [ev.Fault(0.1, 0.1, "stuck", 1), *said]
        commands = [command or told] if n == told.after_rows else []
        out.put(rows[n : n + 50], [] if n >= len(rows) - UNTOLD else said, commands)
    assert out.flush()
    place = tmp_path / "found"
    place.mkdir()
    for name in ("live.outing", "live.outing-wal"):
        shutil.copyfile(tmp_path / name, place / name)
    out.close("stopped")
    engine.end()
    return place / "live.outing", live + engine.events()


def stored(path: Path) -> dict[str, list[str]]:
    outing = load_outing(path)
    return {table: [repr(schema.to_row(e)) for e in getattr(outing, table)] for table in schema.EVENTS}


def by_table(events: list) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {table: [] for table in schema.EVENTS}
    for event in events:
        if table := schema.TABLE_OF.get(type(event)):
            found[table].append(repr(schema.to_row(event)))
    return found


def test_what_was_still_owed_is_what_the_engine_would_have_said(tmp_path: Path) -> None:
    path, live = died(tmp_path)
    before, whole = stored(path), by_table(live)
    assert sum(map(len, before.values())) < sum(map(len, whole.values()))
    outing = rescue(path, lambda outing: Engine())
    assert outing.meta["ended"] == "rescued" and outing.meta["rescued_whole"] is True
    assert stored(path) == whole and outing.fixes[:, 7].all(), "each fix is marked as believed"
    assert [p.name for p in path.parent.iterdir()] == ["live.outing"]
    assert [(c.after_rows, c.name) for c in outing.commands] == [(100, "mute")]
    rescue(path, lambda outing: pytest.fail("there is nothing left to do"))


def another(outing: object) -> Engine:
    """Says other things to the same rows: it has seen bounces before, so it counts on."""
    engine = Engine()
    engine.receive([(kind, t - 30.0, *rest) for kind, t, *rest in bounce(5.0)])
    engine.events()
    return engine


@pytest.mark.parametrize(
    ("how", "engine_for"),
    [
        ({}, None),
        ({"thinned": 1.0}, lambda outing: Engine()),
        ({}, another),
        ({"wrong": True}, lambda outing: Engine()),
    ],
    ids=["nobody to ask", "thinned", "another engine", "more than was said"],
)
def test_what_a_replay_contradicts_is_kept_as_it_is(
    tmp_path: Path, how: dict, engine_for: Callable[[object], Engine] | None
) -> None:
    path, _ = died(tmp_path, **how)
    before = stored(path)
    outing = rescue(path, engine_for)
    assert outing.meta["ended"] == "rescued" and outing.meta["rescued_whole"] is False
    assert stored(path) == before


@pytest.mark.parametrize("name", ["dance", "mute"])
def test_a_command_that_cannot_have_been_given_is_told(tmp_path: Path, name: str) -> None:
    path, _ = died(tmp_path, Command(100, 1.0, name, {"loudly": 1}))
    with pytest.raises(Refused, match=f"the command {name} in this outing file cannot be"):
        rescue(path, lambda outing: Engine())


def test_time_that_passed_without_rows_is_told_again(tmp_path: Path) -> None:
    """`advance` in the middle of the rows: the silence of 2 s that the engine was told of is in the replay as well."""
    path, _ = died(tmp_path, Command(100, 1.0, "advance", {"now": 4.0}))
    assert [f.kind for f in rescue(path, lambda outing: Engine()).faults] == ["silent"]


def test_of_a_folder_the_long_ones_can_wait(tmp_path: Path) -> None:
    path, _ = died(tmp_path)
    long = path.stat().st_size + path.with_name("live.outing-wal").stat().st_size
    assert rescue_folder(path.parent, None, long - 1) == []
    assert rescue_folder(path.parent, None, long) == [(path, None)]
    assert rescue_folder(path.parent, None, long) == [], "it is whole now"


WRITES = """
import sys
from pathlib import Path
from cadence_coach.store import outing_file
from tests.store import made
usual = outing_file._put_all
def slow(db, outing):
    usual(db, outing)
    print("written", flush=True)
    sys.stdin.readline()
outing_file._put_all = slow
outing_file.save_outing(made.outing(), Path(sys.argv[1]))
"""


def test_what_another_program_is_just_writing_stays(tmp_path: Path) -> None:
    """An import while a coach starts in the same folder."""
    path = tmp_path / "imported.outing"
    other = subprocess.Popen([sys.executable, "-c", WRITES, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert other.stdout is not None and other.stdout.readline() == b"written\n"
    (fresh,) = tmp_path.iterdir()
    assert rescue_folder(tmp_path) == [] and fresh.exists()
    other.communicate(b"\n")
    assert other.returncode == 0 and load_outing(path).notes and [*tmp_path.iterdir()] == [path]


def test_what_a_killed_program_was_writing_goes(tmp_path: Path) -> None:
    path = tmp_path / "imported.outing"
    other = subprocess.Popen([sys.executable, "-c", WRITES, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert other.stdout is not None and other.stdout.readline() == b"written\n"
    other.kill()
    other.communicate()
    assert len([*tmp_path.iterdir()]) == 1
    assert rescue_folder(tmp_path) == [] and not [*tmp_path.iterdir()]


def test_a_leftover_with_our_number_is_in_nobodys_way(tmp_path: Path) -> None:
    """In a container each program is process 1."""
    save_outing(made.outing(), tmp_path / "other.outing")
    (tmp_path / "other.outing").rename(tmp_path / f".a.outing.{os.getpid()}.new")
    save_outing(made.outing(), tmp_path / "a.outing")
    assert [p.name for p in tmp_path.iterdir()] == ["a.outing"]
