"""Every Java name that Python asks for exists: classes, static members, and methods of objects made in the same file.

Judges: the API 29 signatures for android.*, and `javap` on the compiled Java of ours and of python-for-android.
"""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest

from tests.android import toolbox

FILES = [
    toolbox.ANDROID / "host.py",
    toolbox.ANDROID / "main.py",
    toolbox.ANDROID / "service/main.py",
    toolbox.ROOT / "cadence_coach/sources/phone.py",
    toolbox.ROOT / "cadence_coach/sources/phone_check.py",
    toolbox.ROOT / "cadence_coach/sound/phone.py",
]
GENERATED = {"cadencecoach.phone.ServiceCoach": {"start", "stop"}}
"""Written by python-for-android when it builds; its template is compiled in test_build.py."""


def members(name: str, cache: dict[str, set[str] | None] = {}) -> set[str] | None:  # noqa: B006 (a cache)
    """Public names of a Java class, inherited ones too; None when there is no such class."""
    if name in GENERATED:
        return GENERATED[name]
    if name not in cache:
        api = toolbox.api()
        if name in api:
            t, found = api[name], set()
            while t is not None:
                found |= {m.name for m in t.members}
                t = api.get(t.above.replace("/", ".")) if t.full != "java.lang.Object" else None
            cache[name] = found
        else:
            path = f"{toolbox.our_classes()}:{toolbox.api_jar()}"
            said = subprocess.run(["javap", "-public", "-cp", path, name], capture_output=True, text=True)
            cache[name] = None
            if said.returncode == 0:
                names = set(re.findall(r"([\w$]+)(?=\(|;)", said.stdout))
                up = re.search(r" extends ([\w.$]+)", said.stdout)
                cache[name] = names | ((members(up[1]) or set()) if up and up[1] != "java.lang.Object" else set())
    return cache[name]


def wrong_names(source: str) -> list[str]:
    """Java names in Python code that do not exist, as `line: name`."""
    tree = ast.parse(source)
    classes: dict[str, str] = {}
    objects: dict[str, str] = {}
    for node in ast.walk(tree):
        if not isinstance(node, ast.Assign) or not isinstance(node.value, ast.Call):
            continue
        call = node.value
        for target in node.targets:
            name = ast.unparse(target)
            if isinstance(call.func, ast.Name) and call.func.id == "autoclass":
                classes[name] = call.args[0].value
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign) and isinstance(node.value, ast.Call):
            made = ast.unparse(node.value.func)
            if made in classes:
                objects.update({ast.unparse(t): classes[made] for t in node.targets})
    wrong = [f"{n}: no class {c}" for n, c in sorted(classes.items()) if members(c) is None]
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute):
            owner = ast.unparse(node.value)
            java = classes.get(owner) or objects.get(owner)
            if java is not None and members(java) is not None and node.attr not in members(java):
                wrong.append(f"{node.lineno}: {java} has no {node.attr}")
    return wrong


@pytest.fixture(scope="module", autouse=True)
def ready(tools):
    """The tools are there."""


@pytest.mark.parametrize("path", FILES, ids=lambda p: "/".join(p.parts[-2:]))
def test_every_java_name_exists(path):
    assert wrong_names(path.read_text()) == []


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("sources/phone.py", "self._sensors.drain()", "self._sensors.drian()"),
        ("sources/phone.py", '"cadencecoach.phone.SensorBatcher"', '"cadencecoach.phone.SensorBatch"'),
        ("sources/phone.py", "Phone.model()", "Phone.modell()"),
        ("sources/phone.py", "self._phone.clocks()", "self._phone.clock()"),
        ("sound/phone.py", "self._java.offer(", "self._java.offers("),
        ("sound/phone.py", "Phone.context()", "Phone.contexts()"),
    ],
)
def test_a_name_that_does_not_exist_is_found(file, old, new):
    text = (toolbox.ROOT / "cadence_coach" / file).read_text()
    assert old in text
    assert len(wrong_names(text.replace(old, new))) >= 1


def test_androids_own_classes_are_judged_by_the_signatures():
    code = 'S = autoclass("android.hardware.SensorManager")\nS.SENSOR_DELAY_GAME\nS.SENSOR_DELAY_SLOW\n'
    assert wrong_names(code) == ["3: android.hardware.SensorManager has no SENSOR_DELAY_SLOW"]
    assert wrong_names('X = autoclass("android.hardware.Nothing")\n') == ["X: no class android.hardware.Nothing"]


def test_jnius_is_imported_nowhere_else():
    allowed = {p.resolve() for p in FILES}
    places = [*(toolbox.ROOT / "cadence_coach").rglob("*.py"), *Path(toolbox.ANDROID).glob("*.py")]
    found = [p for p in places if re.search(r"^\s*(from|import) jnius", p.read_text(), re.M)]
    assert found and set(map(Path.resolve, found)) <= allowed
