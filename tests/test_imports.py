"""Which room may import which: read from the sources, and tried with the desktop's libraries out of reach."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import cadence_coach

PACKAGE = Path(cadence_coach.__file__).parent
NAME = "cadence_coach"

MAY = {
    "core": set(),
    "palette": set(),
    "safety": set(),
    "foil": {"core", "errors"},
    "sound": {"core", "errors"},
    "sources": {"core", "store", "sim", "sound", "errors"},
    "store": {"core", "errors"},
    "sim": {"core", "foil", "store", "errors"},
    "land": {"core", "errors"},
    "review": {"core", "foil", "land", "store", "errors", "palette"},
    "live": {"core", "foil", "land", "sound", "sources", "store", "review", "errors"},
    "app": {"core", "foil", "sound", "sources", "store", "review", "land", "live", "errors", "palette", "safety"},
    "commands": {
        "core",
        "foil",
        "sound",
        "sources",
        "store",
        "sim",
        "review",
        "land",
        "live",
        "app",
        "errors",
        "palette",
        "safety",
    },
    "cli": {"commands", "errors"},
    "__main__": {"cli"},
    "errors": set(),
    "__init__": set(),
}
"""Room (folder or module at the top) to those it may import: one way, so that none is reached from one it uses."""

STANDARD = {"__future__"} | set(sys.stdlib_module_names)
OUTSIDE = {"core": STANDARD, "foil": STANDARD | {"numpy", "attrs"}}
PHONE = ("scipy", "matplotlib", "sounddevice", "typer", "rich")
"""What the phone does not have: in its rooms only inside functions that a desktop alone calls."""
PHONE_ROOMS = ("core", "foil", "sound", "sources", "store", "review", "land", "live", "app")


def modules() -> Iterator[Path]:
    return (path for path in sorted(PACKAGE.rglob("*.py")) if "sounds" not in path.relative_to(PACKAGE).parts)


def room_of(path: Path) -> str:
    first = path.relative_to(PACKAGE).parts[0]
    return first.removesuffix(".py")


def imports(path: Path, top_level_only: bool = False) -> Iterator[tuple[str, int]]:
    """Full names of imported modules and the line; also those inside functions, unless told otherwise."""
    tree = ast.parse(path.read_text("utf-8"))
    nodes = list(_outside_functions(tree)) if top_level_only else list(ast.walk(tree))
    package = ".".join([NAME, *path.relative_to(PACKAGE).parent.parts])
    for node in nodes:
        if isinstance(node, ast.Import):
            yield from ((alias.name, node.lineno) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                base = ".".join([*package.split(".")[: len(package.split(".")) - node.level + 1], base]).rstrip(".")
            yield from ((f"{base}.{alias.name}", node.lineno) for alias in node.names)


def _outside_functions(node: ast.AST) -> Iterator[ast.AST]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            continue
        if isinstance(child, ast.If) and ast.unparse(child.test) in ("TYPE_CHECKING", "typing.TYPE_CHECKING"):
            continue
        yield child
        yield from _outside_functions(child)


def wrong(path: Path) -> list[str]:
    room = room_of(path)
    bad = []
    for name, line in imports(path):
        head, _, rest = name.partition(".")
        if head == NAME:
            target = rest.partition(".")[0] or "__init__"
            if target not in MAY:
                target = "__init__"  # a plain value of the package itself, such as its version
            if target not in (room, "__init__") and target not in MAY[room]:
                bad.append(f"{path.relative_to(PACKAGE)}:{line}: {room} may not import {target}")
        elif head not in OUTSIDE.get(room, {head}):
            bad.append(f"{path.relative_to(PACKAGE)}:{line}: {room} may not import {head}")
    if room in PHONE_ROOMS:
        for name, line in imports(path, top_level_only=True):
            if name.partition(".")[0] in PHONE:
                bad.append(f"{path.relative_to(PACKAGE)}:{line}: {name} is not on the phone; import it in the function")
    return bad


def test_arrows_run_one_way() -> None:
    seen = list(modules())
    assert len(seen) > 20
    assert {room_of(path) for path in seen} <= set(MAY), "a new room: say in MAY what it may import"
    assert [line for path in seen for line in wrong(path)] == []


def test_the_rule_itself_has_no_circle() -> None:
    """Whoever may be imported by a room may not, through any way, import that room."""

    def reached(room: str, seen: set[str]) -> set[str]:
        for other in MAY[room] - seen:
            seen.add(other)
            reached(other, seen)
        return seen

    assert [room for room in MAY if room in reached(room, set())] == []


@pytest.mark.parametrize(
    ("where", "text", "words"),
    [
        ("core/made_up.py", "import numpy", "core may not import numpy"),
        ("core/made_up.py", "from cadence_coach.foil import band", "core may not import foil"),
        ("foil/made_up.py", "def f():\n    from ..store import outing", "foil may not import store"),
        ("store/made_up.py", "import cadence_coach.review.figures", "store may not import review"),
        ("review/made_up.py", "import matplotlib.pyplot as plt", "not on the phone"),
        ("sound/made_up.py", "try:\n    import sounddevice\nexcept OSError:\n    pass", "not on the phone"),
    ],
)
def test_a_wrong_import_is_found(
    where: str, text: str, words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(f"{__name__}.PACKAGE", tmp_path)
    path = tmp_path / where
    path.parent.mkdir()
    path.write_text(text)
    (found,) = wrong(path)
    assert words in found


def test_the_phone_rooms_load_without_the_desktop_libraries() -> None:
    """Every module of the phone's rooms, in a fresh interpreter where those libraries cannot be found.

    Kivy screens need a window: they are tried on a screen elsewhere; here everything of app that is pure.
    """
    names = [
        ".".join([NAME, *path.relative_to(PACKAGE).with_suffix("").parts]).removesuffix(".__init__")
        for path in modules()
        if room_of(path) in PHONE_ROOMS
        and not any(n.partition(".")[0] in ("kivy", "jnius", "android") for n, _ in imports(path))
    ]
    program = (
        "import sys, importlib\n"
        f"for name in {PHONE!r}: sys.modules[name] = None\n"
        f"for name in {names!r}: importlib.import_module(name)\n"
        "print(len(sys.modules))\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    assert len(names) > 15
