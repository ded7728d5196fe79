"""Which column of a CSV is what, by its name."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from cadence_coach.errors import Refused
from cadence_coach.store.asking import Ask, Question, answer, refuse

GRAVITY = ("gravity_x", "gravity_y", "gravity_z")
"""Where a logger parts the acceleration into motion and gravity: both are taken and added up again."""
ROLES = (
    *("time", "ax", "ay", "az", "wx", "wy", "wz", *GRAVITY),
    *("speed", "lat", "lon", "heading", "speed_accuracy"),
)
NEEDED = ROLES[:4]

MOST_SHOWN = 80
"""Characters of a line that are spent on what columns there are."""

NAMES: dict[str, str] = {
    "time": r"t|.*time.*|elapsed.*|seconds.*|epoch.*|date.*|zeit.*|uhrzeit|datum.*",
    **{f"a{c}": rf"(.*[ _.-])?a[ _.-]?{c}|.*acc[a-z]*[ _.-]*{c}|.*beschleunigung[ _.-]*{c}|{c}" for c in "xyz"},
    **{f"w{c}": rf"[wg][ _.-]?{c}|.*(gyro?|gyroscope|rot[a-z]*|omega)[a-z]*[ _.-]*(rate)?[ _.-]*{c}" for c in "xyz"},
    **{f"gravity_{c}": rf".*grav[a-z]*[ _.-]*{c}" for c in "xyz"},
    "speed": r".*(speed|velocity|geschwindigkeit)",
    "lat": r".*lat(itude)?|breite",
    "lon": r".*(lon|lng|long)(gitude|itude)?|länge",
    "heading": r".*(heading|bearing|course|kurs)",
    "speed_accuracy": r".*speed[ _]*accuracy",
}
WITHOUT_GRAVITY = re.compile(r"lin(ear)?|user|without|gravity[ _-]?free|ohne")


def columns(path: Path, names: list[str], given: dict[str, str], ask: Ask) -> dict[str, str]:
    """Role to column name: as given, as the names tell, or as a person says where a role that is needed is in doubt."""
    at: dict[str, str] = {}
    for role, name in given.items():
        if role not in ROLES:
            raise Refused(f"--columns {role}={name}: no such role; choose from {', '.join(ROLES)}")
        if name not in names:
            raise Refused(f"--columns {role}={name}: {path.name} has no such column; it has {there(names)}")
        _once(path, [n for n in names if n == name])
        at[role] = name
    free = [name for name in names if name not in at.values()]
    asked: list[tuple[str, list[str]]] = []
    for role in ROLES:
        if role == ROLES[len(NEEDED)]:
            _ask_for(path, asked, at, free, ask)
        if role in at:
            continue
        found = [name for name in free if means(name, role)]
        if role[0] == "a" and len(found) > 1:
            found = [n for n in found if not WITHOUT_GRAVITY.search(n.lower())] or found
            found = [n for n in found if n.strip().lower() not in "xyz"] or found
        if role == "time":
            found = [n for n in found if "datum" not in n.lower()] or found  # beside a time it is the day alone
        if role in NEEDED:
            _once(path, found)
        if role in NEEDED and len(found) != 1:
            asked.append((role, found))
        elif found:
            at[role] = found[0]
            free.remove(found[0])
    parted = all(WITHOUT_GRAVITY.search(at[role].lower()) for role in ("ax", "ay", "az"))
    for group in (("wx", "wy", "wz"), ("lat", "lon"), GRAVITY):
        if (group is GRAVITY and not parted) or not all(role in at for role in group):
            for role in group:
                at.pop(role, None)
    return at


def _once(path: Path, found: Sequence[str]) -> None:
    """Refuses two columns of one name: no answer could tell which of them is meant."""
    if twice := next((name for name in found if found.count(name) > 1), None):
        raise Refused(f"{path.name}: column {twice!r} is there twice; rename one")


def _ask_for(path: Path, asked: list[tuple[str, list[str]]], at: dict[str, str], free: list[str], ask: Ask) -> None:
    """Puts into `at` what a person says of the roles that are in doubt: each with the columns that it could be. Where
    nobody can be asked all are named at once."""
    said = []
    for role, could in asked:
        text = f"{role} could be {' or '.join(map(repr, could))}" if could else f"no column looks like {role}"
        said.append(text if could else f"{text}; there are {there(free)}")
        if ask is not refuse:
            left = [name for name in could or free if name in free]
            at[role] = answer(ask, Question(role, f"{path.name}: {said[-1]}", tuple(left), f"--columns {role}=NAME"))
            free.remove(at[role])
    if asked and ask is refuse:
        none = ", ".join(role for role, could in asked if not could)
        said = [text for text, (_, could) in zip(said, asked, strict=True) if could]
        if none:
            said.append(f"no column looks like {none}; there are {there(free)}")
        option = "--columns " + ",".join(f"{role}=NAME" for role, _ in asked)
        raise Refused(f"{path.name}: {'; '.join(said)}; say it with {option}")


def means(name: str, role: str) -> bool:
    bare = re.sub(r"[\[(].*?[\])]", "", name).strip().lower()
    for unit in (
        "m_s2",
        "m/s2",
        "rad_s",
        "rad/s",
        "deg_s",
        "deg/s",
        "m_s",
        "m/s",
        "km/h",
        "ms",
        "us",
        "ns",
        "s",
        "g",
        "mg",
        "deg",
    ):
        bare = re.sub(rf"[ _]{re.escape(unit)}$", "", bare)
    if role == "speed" and "accuracy" in bare:
        return False
    return re.fullmatch(NAMES[role], bare) is not None


def there(names: Sequence[str]) -> str:
    """Column names in quotation marks, cut where somebody gave a file of something else."""
    text = ", ".join(map(repr, names))
    return text if len(text) <= MOST_SHOWN else text[:MOST_SHOWN].rstrip() + " ..."
