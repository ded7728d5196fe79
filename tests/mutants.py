"""How many small mistakes the tests of core and foil notice: mutants by cosmic-ray, a seeded sample of each module.

    python -m tests.mutants foil core/word.py core/tally.py --per-module 40 --seed 1 --out mutants.json
    python -m tests.mutants core/cycles.py --direct       the module's own test files alone: minutes instead of hours

cosmic-ray makes the mutants; running them is our own, because it starts a new pytest for each, and its start would be
most of the time: here a process that has numpy and pytest loaded forks. A place in the code is drawn first, then one of
the changes possible there, so that a `*` with six replacements weighs no more than a number. Left out: bit operators
(only annotations have them), `is` and `in` for other comparisons, decorators that only remember results, `strict` of
zip and `slots`. Each mutant meets its module's own tests first, then those that run its line (coverage contexts), the
fastest first, `SECONDS` of them by the clock of a run without mutants and without coverage, which slows some rides down
five times; one that goes on and on counts as noticed. Not the slow tests, not those in other rooms: the rate is a lower
bound.
"""

from __future__ import annotations

import argparse
import difflib
import importlib
import json
import math
import os
import random
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path

PROJECT = Path(__file__).parent.parent
ROOM = "cadence_coach"
SECONDS = 15.0
"""Tests that a mutant meets, in seconds of a run without mutants."""
LONGEST_S = 900.0
"""A mutant that waits for something that never comes."""
KNOWN = PROJECT / "tests" / "mutants_equivalent.txt"
"""Lines `module | line before | line after | why nobody can notice`."""

_SIGNS = ("Add", "Sub", "Mul", "Div", "FloorDiv", "Mod", "Pow")
_ORDER = ("Eq", "NotEq", "Lt", "LtE", "Gt", "GtE")
_LEFT_OUT = ("VariableReplacer", "VariableInserter", "Invert", "USub_Not", "UAdd_Not")
_TESTED_WITH = {
    "gait": ("likely",),
    "crossing": ("cycles_by_hand", "cycles"),
    "landing": ("hollows_by_hand", "front"),
    "flown": ("flights_by_hand",),
    "level": ("cycles_by_hand", "cycles"),
    "likely": ("gait", "flights"),
    "rules": ("looks", "pace", "guard", "word", "afterword", "turns", "corrector", "beat", "accidents", "coach"),
    "events": ("engine_by_hand", "flights_by_hand", "cycles_by_hand", "settings"),
    "cuebook": ("corrector",),
    "tally": ("word", "coach_turns", "coach"),
    "swell": ("pace",),
    "cycles": ("cycles_by_hand", "beats_by_hand", "hollows_by_hand", "timing", "front"),
    "front": ("upright", "motion", "engine_by_hand"),
    "upright": ("front",),
    "engine": ("engine_by_hand", "trouble"),
    "flights": ("flights_by_hand", "endings_by_hand"),
    "coach": ("coach_turns", "accidents"),
    "corrector": ("coach_turns", "coach"),
    "guard": ("coach_turns", "coach", "accidents"),
    "pace": ("coach",),
    "predict": ("beat",),
    "word": ("coach_turns", "coach"),
    "targets": ("../foil/test_band", "corrector"),
    "sensitivity": ("setup",),
    "setup": ("facts", "pumping", "drag"),
}
_GUARDS = ("strict=", "slots=")
_MEMORY = ("@lru_cache", "@functools.cache", "@functools.lru_cache", "@cache")


@dataclass(frozen=True)
class Mutant:
    module: str
    operator: str
    occurrence: int
    line: int
    before: str
    after: str
    source: str


def wanted(operator: str) -> bool:
    name = operator.split("/")[-1]
    if m := re.match(r"ReplaceBinaryOperator_(\w+)_(\w+)", name):
        return m[1] in _SIGNS and m[2] in _SIGNS
    if m := re.match(r"ReplaceComparisonOperator_(\w+)_(\w+)", name):
        return (m[1] in _ORDER and m[2] in _ORDER) or m[1].startswith(("Is", "In", "Not"))
    return not any(part in name for part in _LEFT_OUT)


def places(path: Path) -> dict[tuple[int, int, str], list[tuple[str, int]]]:
    """Where something can be changed: (line, column, sort of change) -> operators with the occurrence there."""
    from cosmic_ray import plugins
    from cosmic_ray.ast import ast_nodes, get_ast_from_path

    tree, lines = get_ast_from_path(path), path.read_text("utf-8").splitlines()
    found: dict[tuple[int, int, str], list[tuple[str, int]]] = defaultdict(list)
    for name in filter(wanted, plugins.operator_names()):
        made = plugins.get_operator(name)()
        spots = [spot for node in ast_nodes(tree) for spot in made.mutation_positions(node)]
        for occurrence, ((line, column), _) in enumerate(spots):
            text = lines[line - 1]
            if not text.strip().startswith(_MEMORY) and not text[:column].endswith(_GUARDS):
                found[line, column, name.split("_")[0]].append((name, occurrence))
    return found


def sample(path: Path, most: int, seed: int) -> tuple[list[Mutant], int]:
    """At most `most` mutants of a module, and how many places it has."""
    from cosmic_ray import plugins
    from cosmic_ray.mutating import mutate_code

    chance, spots, text = random.Random(f"{seed}{path.name}"), places(path), path.read_text("utf-8")
    drawn = chance.sample(sorted(spots), min(most, len(spots)))
    mutants = []
    for spot in drawn:
        name, occurrence = chance.choice(spots[spot])
        source = mutate_code(text, plugins.get_operator(name)(), occurrence)
        assert source is not None
        changed = [d for d in difflib.unified_diff(text.splitlines(), source.splitlines(), lineterm="", n=0)][3:]
        before = " ".join(d[1:].strip() for d in changed if d.startswith("-"))
        after = " ".join(d[1:].strip() for d in changed if d.startswith("+"))
        module = path.relative_to(PROJECT / ROOM).as_posix()
        mutants.append(Mutant(module, name.split("/")[-1], occurrence, spot[0], before, after, source))
    return mutants, len(spots)


class Tests:
    """Which tests run a line, and how long each takes: from one run under coverage."""

    def __init__(self, copy: Path, folders: list[str]) -> None:
        data = copy / ".coverage"
        (copy / "rc").write_text(f"[run]\nsource_pkgs={ROOM}\ndata_file={data}\nrelative_files=true\n")
        plain = [sys.executable, "-m", "pytest", *folders, "--hypothesis-seed=0"]
        traced = ["--cov", "--cov-config=rc", "--cov-context=test", "--cov-report="]
        for more in (traced, ["--junitxml=times.xml", "-o", "junit_family=xunit1"]):
            done = subprocess.run([*plain, *more], cwd=copy, capture_output=True, text=True, check=False)
            if done.returncode:
                raise SystemExit(f"the tests fail without any mutant:\n{done.stdout[-3000:]}{done.stderr[-3000:]}")
        self.seconds: dict[str, float] = {}
        for case in re.finditer(r"<testcase ([^>]*)>", (copy / "times.xml").read_text("utf-8")):
            value = dict(re.findall(r'(\w+)="([^"]*)"', case[1]))
            self.seconds[f"{value['file']}::{_plain(value['name'])}"] = float(value["time"])
        from coverage import CoverageData

        read = CoverageData(str(data))
        read.read()
        self.lines: dict[str, dict[int, list[str]]] = {}
        for file in read.measured_files():
            where = Path(file)
            where = where.relative_to(copy) if where.is_absolute() else where
            self.lines[where.relative_to(ROOM).as_posix()] = read.contexts_by_lineno(file)

    def for_(self, mutant: Mutant) -> tuple[list[str], list[str]]:
        """Test names, the fastest first: those of the module's own files; and those that run the line, others that run
        the module and, where a line runs at import alone, any."""
        lines = self.lines.get(mutant.module, {})
        line = {c.rpartition("|")[0] for c in lines.get(mutant.line, ()) if c}
        module = {c.rpartition("|")[0] for found in lines.values() for c in found if c}
        files = tuple(f"/{name}" for name in own_files(mutant.module))
        home = {n for n in self.seconds if n.partition("::")[0].endswith(files)}  # also what a cache hid

        def fastest(names: set[str]) -> list[str]:
            return sorted(names, key=lambda n: (self.seconds.get(n, 1.0), n))

        taken: list[list[str]] = []
        elsewhere = set() if line else set(self.seconds) - module - home
        groups = (home, line - home, module - line - home, elsewhere)
        for group, left in zip(groups, (2 * SECONDS, SECONDS, SECONDS / 2, SECONDS), strict=True):
            taken.append([])
            for name in fastest(group):
                left -= self.seconds.get(name, 1.0) + 0.01
                if left < 0:
                    break
                taken[-1].append(name)
        return taken[0], [name for group in taken[1:] for name in group]

    def lasting(self, names: list[str]) -> float:
        """Seconds of these without a mutant."""
        return sum(self.seconds.get(name, 1.0) + 0.01 for name in names)


class OwnTests:
    """A module's own test files, whatever they take: `--direct`."""

    def __init__(self, copy: Path) -> None:
        self.copy = copy

    def for_(self, mutant: Mutant) -> tuple[list[str], list[str]]:
        room = Path("tests") / Path(mutant.module).parts[0]
        return [str(room / f) for f in own_files(mutant.module) if (self.copy / room / f).exists()], []

    def lasting(self, names: list[str]) -> float:
        return 30.0 * len(names)


def own_files(module: str) -> list[str]:
    """Names of a module's own test files, those by hand before those with rides."""
    stem = Path(module).stem
    return [f"{name}.py" if "/" in name else f"test_{name}.py" for name in (*_TESTED_WITH.get(stem, ()), stem)]


def _plain(name: str) -> str:
    for entity, sign in (("&lt;", "<"), ("&gt;", ">"), ("&quot;", '"'), ("&amp;", "&")):
        name = name.replace(entity, sign)
    return name


def noticed(copy: Path, mutant: Mutant, names: list[str], seconds: float, first: bool = False) -> str:
    """ "" when all tests pass, else how it was noticed. seconds: what they take without a mutant; first: the compiled
    files may be kept, they are not a mutant's."""
    if not names:
        return ""
    path = copy / ROOM / mutant.module
    for old in (path.parent / "__pycache__").glob(f"{path.stem}.*"):
        old.unlink()  # a mutant can have its forerunner's time and size
    original = path.read_text("utf-8")
    path.write_text(mutant.source, "utf-8")
    try:
        child = os.fork()
        if child == 0:
            _child(copy, names, seconds, first)
        until = time.monotonic() + LONGEST_S
        while time.monotonic() < until:
            done, status = os.waitpid(child, os.WNOHANG)
            if done:
                code = os.waitstatus_to_exitcode(status)
                return {0: "", 5: "", -signal.SIGXCPU: "goes on", -signal.SIGKILL: "goes on"}.get(code, "a test fails")
            time.sleep(0.02)
        os.killpg(child, signal.SIGKILL)
        os.waitpid(child, 0)
        return "waits"
    finally:
        path.write_text(original, "utf-8")


def _child(copy: Path, names: list[str], seconds: float, first: bool) -> None:
    os.setpgid(0, 0)
    most = round(20 + 3 * seconds)  # of the processor's time: a busy machine is no hang
    resource.setrlimit(resource.RLIMIT_CPU, (most, most + 5))
    os.chdir(copy)
    quiet = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(quiet, stream)
    for name in [n for n in sys.modules if n.split(".")[0] in (ROOM, "tests")]:
        del sys.modules[name]
    sys.path.insert(0, str(copy))
    if not first:
        sys.dont_write_bytecode = True
        os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
    code = 1
    try:
        import pytest

        code = int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", "--hypothesis-seed=0", *names]))
    finally:
        os._exit(code)


def wilson(share: float, n: int) -> tuple[float, float]:
    """95 % interval of a share seen in n (Wilson 1927)."""
    z = 1.959964
    middle, half = share + z * z / (2 * n), z * math.sqrt(share * (1 - share) / n + z * z / (4 * n * n))
    return (middle - half) / (1 + z * z / n), (middle + half) / (1 + z * z / n)


def known() -> dict[tuple[str, str, str], str]:
    lines = KNOWN.read_text("utf-8").splitlines() if KNOWN.exists() else []
    parts = [[p.strip() for p in line.split(" | ")] for line in lines if line and not line.startswith("#")]
    return {(module, before, after): why for module, before, after, why in parts}


def modules(asked: list[str]) -> list[Path]:
    found = []
    for name in asked or ["core", "foil"]:
        path = PROJECT / ROOM / name
        found += sorted(path.glob("*.py")) if path.is_dir() else [path]
    return [p for p in found if p.name not in ("__init__.py", "likely_fit.py", "timing_fit.py")]  # numbers alone


def main() -> None:
    parser = argparse.ArgumentParser(description="Mutants of core and foil against their tests")
    parser.add_argument("modules", nargs="*", help="core, foil, or files in them; default both")
    parser.add_argument("--per-module", type=int, default=25)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tests", nargs="*", help="folders or files under tests/; default the rooms' own")
    parser.add_argument("--direct", action="store_true", help="only a module's own test files, without a first run")
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    for module in ("hypothesis", "mir_eval.util", "numpy", "pytest", "scipy.optimize", "scipy.signal", "attrs"):
        importlib.import_module(module)  # once, before the forks

    files = modules(asked.modules)
    folders = asked.tests or sorted({f"tests/{p.relative_to(PROJECT / ROOM).parts[0]}" for p in files})
    explained, rows, all_places = known(), [], {}
    with tempfile.TemporaryDirectory() as room:
        copy = Path(room) / "copy"
        for part in (ROOM, "tests", "sounds"):
            shutil.copytree(PROJECT / part, copy / part, ignore=shutil.ignore_patterns("__pycache__"))
        for part in ("pyproject.toml", "README.md", "DEVELOPERS.md", "LICENSE"):
            shutil.copy(PROJECT / part, copy)
        if not asked.direct:
            print("running", *folders, "twice, to see which test runs which line, and how long each takes", flush=True)
        tests = OwnTests(copy) if asked.direct else Tests(copy, folders)
        for path in files:
            mutants, spots = sample(path, asked.per_module, asked.seed)
            all_places[path.relative_to(PROJECT / ROOM).as_posix()] = spots
            everything = sorted({name for mutant in mutants for part in tests.for_(mutant) for name in part})
            unchanged = replace(mutants[0], source=path.read_text("utf-8"))
            if noticed(copy, unchanged, everything, tests.lasting(everything), first=True):
                raise SystemExit(f"{path.name}: its tests fail without any mutant")
            for n, mutant in enumerate(mutants, 1):
                parts = tests.for_(mutant)
                names = [*parts[0], *parts[1]]
                how = next(filter(None, (noticed(copy, mutant, p, tests.lasting(p)) for p in parts)), "")
                why = explained.get((mutant.module, mutant.before, mutant.after), "")
                rows.append({
                    "module": mutant.module, "line": mutant.line, "operator": mutant.operator,
                    "before": mutant.before, "after": mutant.after, "tests": len(names), "noticed": how, "why": why,
                })  # fmt: skip
                print(f"\r{mutant.module} {n}/{len(mutants)}", end="", file=sys.stderr, flush=True)
                if not how and not why:
                    print(f"\n{mutant.module}:{mutant.line}  ({len(names)} tests)", flush=True)
                    print(f"  - {mutant.before}\n  + {mutant.after}", flush=True)
            if asked.out:
                asked.out.write_text(json.dumps({"places": all_places, "mutants": rows}, indent=1), "utf-8")
    report(rows, all_places)


def report(rows: list[dict[str, object]], all_places: dict[str, int]) -> None:
    print(f"\n{'module':24} {'places':>6} {'drawn':>6} {'noticed':>8} {'equivalent':>10}")
    rate, spread, n_all = 0.0, 0.0, sum(all_places.values())
    for module, n_places in all_places.items():
        mine = [r for r in rows if r["module"] == module]
        seen, same = sum(bool(r["noticed"]) for r in mine), sum(bool(r["why"]) and not r["noticed"] for r in mine)
        print(f"{module:24} {n_places:6} {len(mine):6} {seen:8} {same:10}")
        if mine:
            p = seen / len(mine)
            smooth = (seen + 1) / (len(mine) + 2)
            rate += n_places / n_all * p
            spread += (n_places / n_all) ** 2 * smooth * (1 - smooth) / len(mine) * (1 - len(mine) / n_places)
    for room in sorted({m.split("/")[0] for m in all_places}):
        mine = [r for r in rows if str(r["module"]).startswith(room + "/")]
        seen, same = sum(bool(r["noticed"]) for r in mine), sum(bool(r["why"]) and not r["noticed"] for r in mine)
        low, high = wilson(seen / len(mine), len(mine))
        print(f"{room}: {seen} of {len(mine)} noticed, {seen / len(mine):.1%} ({low:.1%} to {high:.1%}),", end=" ")
        print(f"{same} of the others explained")
    print(f"weighted by places: {rate:.1%} +- {1.96 * math.sqrt(spread):.1%}")


if __name__ == "__main__":
    main()
