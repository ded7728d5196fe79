"""What `import` does with another logger's files: made into a recording, with questions where in doubt."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cadence_coach.commands.naming import ACCEL
from cadence_coach.errors import CouldNot, Refused

if TYPE_CHECKING:
    from cadence_coach.store.asking import Question


def pairs(option: str, text: str | None) -> dict[str, str]:
    """`a=b,c=d` as a dict. Raises Refused."""
    found = {}
    for part in (text or "").split(","):
        key, equals, value = part.partition("=")
        if part.strip() and not (equals and key.strip() and value.strip()):
            raise Refused(f"--{option} {text}: write it as NAME=VALUE,NAME=VALUE")
        if part.strip():
            found[key.strip()] = value.strip()
    return found


def meant(specs: Sequence[str], named: Sequence[str]) -> list[str]:
    """The names that naming.each found, without what nobody meant: of the JSON in a folder only notes are, of its .txt
    and .tsv only tables of a sensor. A folder whose accel.csv is another logger's stands for the files in it."""
    from cadence_coach.review.notes import is_notes_file
    from cadence_coach.store import logger_files

    found: list[str] = []
    for spec in specs:
        folder = Path(spec)
        accel = next((folder / name for name in ACCEL if (folder / name).is_file()), None)
        if accel is not None and not _is_ours(accel):
            beside = [p for p in folder.iterdir() if p.name.lower().endswith(logger_files.ENDINGS) and p.is_file()]
            found += [str(p) for p in sorted(beside) if p == accel or logger_files.kind_of(p) != "other"]
            continue
        lower = spec.lower()
        if spec not in named and (
            (lower.endswith(".json") and not is_notes_file(spec))
            or (lower.endswith((".txt", ".tsv")) and logger_files.kind_of(folder) == "other")
        ):
            continue
        found.append(spec)
    return found


def _is_ours(accel: Path) -> bool:
    from cadence_coach.store import generic_csv

    try:
        return generic_csv.is_ours(accel)
    except (Refused, CouldNot):
        return True  # what is wrong with it is said where it is opened


def together(specs: Sequence[str]) -> list[list[str]]:
    """The names on the command line, those that are one recording in one list: the files of one folder where some hold
    no acceleration but the rotation, place or gravity that belong to one."""
    from cadence_coach.store import logger_files

    beside: dict[Path, list[str]] = {}
    for spec in specs:
        path = Path(spec)
        if path.is_file() and path.name.lower().endswith(logger_files.ENDINGS):
            beside.setdefault(path.parent, []).append(spec)
    found: dict[str, list[str]] = {spec: [spec] for spec in specs}
    for near in beside.values():
        kinds = {s.kind for s in logger_files.sheets([Path(p) for p in near])} if len(near) > 1 else set()
        if kinds & {"gyro", "gravity", "place"}:
            found[near[0]] = near
            for spec in near[1:]:
                del found[spec]
    return list(found.values())


Recordings = list[tuple[str, list[str] | None]]
"""Paths, each with what was left out of it where it was made here."""


@contextmanager
def ours(
    specs: list[str], columns: dict[str, str], units: dict[str, str], bar: Any, alone: bool
) -> Iterator[Recordings]:
    """The recordings' paths: `specs` itself, or made of another logger's files and packed ones, there until the end of
    the block. alone: nothing else is imported, so columns and units are meant for this, though it were one of ours."""
    from tempfile import TemporaryDirectory

    from cadence_coach.store import generic_csv, logger_files

    paths = [Path(spec) for spec in specs]
    packed = len(paths) == 1 and paths[0].is_file() and paths[0].suffix.lower() == ".zip"
    told = alone and bool(columns or units)
    if told and len(paths) == 1 and paths[0].is_dir():
        raise Refused(
            f"{paths[0]}: is a recording, whose names tell columns and units; to have its files read otherwise name "
            "them, not their folder"
        )
    foreign = len(paths) > 1 or (
        paths[0].is_file()
        and not packed
        and not paths[0].name.lower().endswith(".outing")
        and (told or not generic_csv.is_ours(paths[0]))
    )
    if not foreign and not packed:
        yield [(spec, None) for spec in specs]
        return
    with TemporaryDirectory(prefix="coach-") as room, _as_named(room, name_of(specs)):
        if packed:
            inside = Path(room) / "packed"
            inside.mkdir()
            paths = logger_files.unpacked(paths[0], inside)
            if any((inside / name).exists() and generic_csv.is_ours(inside / name) for name in ACCEL):
                yield [(str(inside), None)]
                return
        asking = _asking(bar)
        found = logger_files.sheets(paths)
        parts = logger_files.joined(found) if len(paths) > 1 else None
        left_out: list[str] = []
        if parts is not None:
            made, said = logger_files.to_recording(parts, Path(room) / "made", asking, columns, units, left_out)
            left = [s.path.name for s in found if s not in parts]
            said += [f"left out: {', '.join(left)}"] if left else []
            print(f"{name_of(specs)}: " + "; ".join(said))
            yield [(str(made), left_out)]
            return
        recordings: Recordings = []
        for path in paths:
            left_out = []
            made, said = generic_csv.to_recording(
                path, Path(room) / f"made-{path.stem}", asking, columns, units, left_out
            )
            print(f"{name_of(specs)}: " + "; ".join(said))
            recordings.append((str(made), left_out))
        yield recordings


@contextmanager
def _as_named(room: str, name: str) -> Iterator[None]:
    """What is wrong with a file made or unpacked in `room` is said of the one that was named."""
    try:
        yield
    except Refused as error:
        text = re.sub(rf"{re.escape(room)}/made[^/]*/\w+\.csv( line \d+)?", name, str(error))
        raise Refused(re.sub(rf"{re.escape(room)}/(packed/|made[^/ :]*)", f"{name}: ", text)) from None


def name_of(specs: Sequence[str]) -> str:
    return " + ".join([specs[0], *(Path(spec).name for spec in specs[1:])])


def _asking(bar: Any) -> Callable[[Question], str]:
    import sys

    from cadence_coach.store.asking import refuse

    def ask(question: Question) -> str:
        bar.stop()
        try:
            print(question.text, file=sys.stderr)
            answer = input(f"[{', '.join(question.choices)}] ")
        except EOFError:
            return refuse(question)
        finally:
            bar.start()
        return answer.strip()

    return ask if sys.stdin.isatty() else refuse
