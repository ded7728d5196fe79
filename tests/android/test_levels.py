"""Which release brought what: our Java runs on API 26 and was compiled against 29, some names it answers to are newer.

Judge: the npm package @nativescript/types-android, made from Android's own SDKs (API 21 to 37), with `@since` levels.
"""

from __future__ import annotations

import re
import subprocess
from functools import cache

import pytest

from tests.android import toolbox

LEAST = 26
"""android.minapi of buildozer.spec."""

NOT_TOLD = "android.media.session."
"""Missing in that package; came with API 21 (Android's documentation, from memory), and exists in 29 (test_java.py)."""


@pytest.fixture(scope="module", autouse=True)
def levels(tools):
    try:
        toolbox.levels_text()
    except toolbox.OutOfReach as error:
        toolbox.say_not_run(f"levels of Android names: {error}")
    return known()


@cache
def known() -> dict[str, tuple[int, str, dict[str, int]]]:
    """Class to (since, class above, member to the release of its oldest form); 21 is the oldest that is told."""
    classes: dict[str, tuple[int, str, dict[str, int]]] = {}
    path: list[str] = []
    since = 21
    for raw in toolbox.levels_text().read_text("utf-8").splitlines():
        line = raw.strip()
        if told := re.search(r"@since (\d+)", line):
            since = int(told[1])
        elif line.startswith(("/*", "*")):
            pass
        elif opened := re.match(
            r"(?:export |declare )*(?:module|namespace|abstract class|class|interface) ([\w.]+)", line
        ):
            path.append(opened[1])
            if "class " in line or "interface " in line:
                above = re.search(r"extends ([\w.]+)", line)
                classes.setdefault(".".join(path), (since, above[1] if above else "", {}))
            since = 21
            if line.endswith("}"):
                path.pop()
        elif line.startswith("}"):
            path.pop()
        elif member := re.match(r"(?:public |protected |static |abstract |readonly )+(\w+)", line):
            owner = classes.get(".".join(path))
            if owner is not None:
                owner[2][member[1]] = min(since, owner[2].get(member[1], 99))
            since = 21
            if line.endswith("{"):
                path.append("(")
    return classes


def used() -> set[tuple[str, str]]:
    """(class, member) of android.* that the bytecode of our classes refers to, by the JDK's disassembler."""
    folder = toolbox.our_classes()
    files = [str(p.relative_to(folder).with_suffix("")) for p in folder.glob("cadencecoach/phone/*.class")]
    command = ["javap", "-c", "-p", "-cp", f"{folder}:{toolbox.api_jar()}", *files]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    found = re.findall(r"// (?:Interface)?(?:Method|Field) (android/[\w/$]+)\.\"?([\w<>]+)", said)
    return {(owner.replace("/", ".").replace("$", "."), name) for owner, name in found}


def since(owner: str, name: str) -> int | None:
    """The release that brought a member, looked for in the classes above, too."""
    while owner in known():
        level, above, members = known()[owner]
        member = "constructor" if name == "<init>" else name
        if member in members:
            return max(level, members[member])
        owner = above
    return None


def test_every_android_name_in_our_java_exists_on_the_oldest_phone():
    names = used()
    assert len(names) > 60
    assert [n for n in sorted(names) if since(*n) is None and not n[0].startswith(NOT_TOLD)] == []
    assert {(owner, name): level for owner, name in names if (level := since(owner, name) or 0) > LEAST} == {}


def test_the_judge_knows_what_is_known():
    """From Android's documentation, from memory: low-latency sound 26, typed startForeground 29, list delivery 31."""
    assert since("android.media.AudioTrack.Builder", "setPerformanceMode") == 26
    assert since("android.app.NotificationChannel", "setImportance") == 26
    assert since("android.location.LocationListener", "onFlushComplete") == 31
    assert since("android.location.LocationManager", "hasProvider") == 31
    assert since("android.hardware.SensorManager", "getDefaultSensor") == 21


@pytest.mark.parametrize(
    ("name", "level"),
    [
        ("HIGH_SAMPLING_RATE_SENSORS", 31),
        ("POST_NOTIFICATIONS", 33),
        ("FOREGROUND_SERVICE_LOCATION", 34),
        ("FOREGROUND_SERVICE_MEDIA_PLAYBACK", 34),
    ],
)
def test_newer_permissions_exist_with_their_release(name, level):
    assert since("android.Manifest.permission", name) == level
    spec = (toolbox.ANDROID / "buildozer.spec").read_text()
    assert f"android.permission.{name}" in spec


def test_what_newer_releases_call_is_answered():
    """Methods that Android 12 calls on a listener and API 29 does not declare: merely there, by their exact names."""
    text = (toolbox.ANDROID / "src/cadencecoach/phone/LocationSink.java").read_text()
    members = known()["android.location.LocationListener"][2]
    assert {n for n, level in members.items() if level > 29 and n != "class"} <= {"onFlushComplete"}
    for method in ("onFlushComplete(int", "onLocationChanged(List<Location>"):
        assert f"public void {method}" in text
