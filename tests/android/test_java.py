"""Our Java and python-for-android's, compiled against what Android 10 (API 29) really has.

Source of the truth: the API signature file `api/current.txt` in Debian's source package
android-platform-frameworks-base 10.0.0 (the Android Open Source Project's own list). Each check is also broken once on
a copy.
"""

from __future__ import annotations

import re
import shutil
import subprocess

import pytest

from tests.android import toolbox
from tests.android.api_stubs import Type


@pytest.fixture(scope="module", autouse=True)
def tools():
    toolbox.available()


def test_signature_file_is_read_whole():
    api = toolbox.api()
    assert len(api) == 4526  # counted with grep in the file: lines that open a class, interface, enum or annotation
    names = {m.name for m in api["android.location.LocationListener"].members}
    assert names == {"onLocationChanged", "onProviderDisabled", "onProviderEnabled", "onStatusChanged"}
    track = {m.name: m for m in api["android.media.AudioTrack"].members}
    assert track["ERROR_DEAD_OBJECT"].value.startswith("-6")


def test_jar_agrees_with_the_jdk_on_what_it_says():
    """The JDK's own disassembler is the outside judge of the class files."""
    said = subprocess.run(
        ["javap", "-cp", toolbox.api_jar(), "-s", "-protected", "android.hardware.SensorManager"],
        capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    wanted = "(Landroid/hardware/SensorEventListener;Landroid/hardware/Sensor;IILandroid/os/Handler;)Z"
    assert f"descriptor: {wanted}" in said
    generic = subprocess.run(
        ["javap", "-cp", toolbox.api_jar(), "android.content.Context"], capture_output=True, text=True, check=True
    ).stdout
    assert "public final <T> T getSystemService(java.lang.Class<T>);" in generic


def test_our_java_compiles_with_python_for_androids():
    assert any(toolbox.our_classes().rglob("CoachService.class"))
    assert any(toolbox.our_classes().rglob("PythonActivity.class"))


MISTYPED = [
    ("SensorBatcher", "registerListener(this, accelerometer", "registerListner(this, accelerometer", "registerListner"),
    ("AudioSink", "getUnderrunCount()", "getUnderrunCounts()", "getUnderrunCounts"),
    ("AudioSink", "addOnRoutingChangedListener(this, null)", "addOnRoutingChangedListener(this)", "addOnRouting"),
    # came with API 31: does not exist on the oldest phones that are served
    ("LocationSink", "manager.getAllProviders().contains", "manager.hasProvider", "hasProvider"),
    ("CoachService", "SERVICE_TYPE_LOCATION", "SERVICE_TYPE_HEALTH", "SERVICE_TYPE_HEALTH"),
    ("HeadsetButton", "onMediaButtonEvent(Intent intent)", "onMediaButton(Intent intent)", "does not override"),
    # an argument of another type
    ("SharedFiles", "openFile(Uri uri, String mode)", "openFile(Uri uri, int mode)", "does not override"),
    # an interface's method left out
    ("Phone", "class Phone {", "class Phone implements android.hardware.SensorEventListener {", "abstract"),
]  # fmt: skip


def test_each_mistyped_name_is_refused(tmp_path):
    """All at once, since javac tells all of them in one run; each must be told of, in its own file. The same files left
    alone compile: see above."""
    copy = tmp_path / "src"
    shutil.copytree(toolbox.ANDROID / "src", copy)
    for name, old, new, _ in MISTYPED:
        file = next(copy.rglob(f"{name}.java"))
        text = file.read_text()
        assert old in text, f"{name}: nothing to mistype"
        file.write_text(text.replace(old, new, 1))
    path = [toolbox.our_classes(), toolbox.api_jar()]
    done = toolbox.compile_java(copy.rglob("*.java"), path, tmp_path / "out")
    assert done.returncode != 0
    errors = re.split(r"(?m)^(?=\S+\.java:\d+: error: )", done.stderr)
    for name, _, new, complaint in MISTYPED:
        told = [e for e in errors if f"/{name}.java:" in e.partition(" error: ")[0] and complaint in e]
        assert told, f"{name}: {new!r} went through"


def test_no_lambdas_and_nothing_newer_than_java_8():
    for path in toolbox.our_java():
        assert not re.search(r"->|\bvar\b|\brecord\s+\w+\(", path.read_text().replace("record.", "")), path.name


# ---- the stand-ins are what they stand for ----


def declared(folder):
    """Every public or protected member of the compiled stand-ins, by javap: (class, name, descriptor)."""
    files = [p for p in folder.rglob("*.class") if not p.stem[-1].isdigit() and "$Pretend" not in p.stem]
    classes = sorted(str(p.relative_to(folder).with_suffix("")) for p in files)
    said = subprocess.run(
        ["javap", "-s", "-protected", "-cp", folder, *classes], capture_output=True, text=True, check=True
    ).stdout
    found, current = [], None
    lines = said.splitlines()
    for line, after in zip(lines, [*lines[1:], ""], strict=True):
        if m := re.search(r"(?:class|interface) ([\w.$]+)", line):
            current = m[1]
        elif after.strip().startswith("descriptor: "):
            name = re.search(r"([\w.$]+)(?:\(.*\).*)?;", line)[1].rpartition(".")[2]
            name = "<init>" if name == current.rpartition(".")[2] else name
            found.append((current, name, after.split()[1], "static" in line))
    return found


def strangers(folder):
    """Members of the stand-ins that the API does not have; those named pretend... are the tests' own handles."""
    api = {t.binary.replace("/", "."): t for t in toolbox.api().values()}

    def known(t: Type | None, name: str, descriptor: str, static: bool) -> bool:
        """Declared there or inherited. Fields of interfaces and constants of enums are static without the word."""
        while t is not None:
            for m in t.members:
                is_static = "static" in m.words or (t.is_interface and m.params is None)
                if (m.name, m.descriptor, is_static) == (name, descriptor, static):
                    return True
            t = api.get(t.above.replace("/", ".")) if t.full != "java.lang.Object" else None
        return False

    wrong = []
    for owner, name, descriptor, static in declared(folder):
        t = api.get(owner)
        if t is None:
            wrong.append(owner)
        elif not name.startswith("pretend") and not known(t, name, descriptor, static):
            wrong.append(f"{owner}.{name}{descriptor}")
    return wrong


BEYOND = [
    "android.location.LocationListener.onLocationChanged(Ljava/util/List;)V",  # API 31
    "android.os.PowerManager$WakeLock.<init>(Landroid/os/PowerManager;)V",  # javac adds it; nobody calls it
]


def test_standins_have_only_what_the_api_has():
    assert strangers(toolbox.standin_classes()) == BEYOND


def test_a_standin_with_a_method_too_many_is_found(tmp_path):
    source = tmp_path / "SensorEventListener.java"
    text = (toolbox.STANDINS / "android/hardware/SensorEventListener.java").read_text()
    source.write_text(text.replace("onSensorChanged(", "onSensorsChanged("))
    done = toolbox.compile_java([source], [toolbox.api_jar()], tmp_path / "out")
    assert done.returncode == 0, done.stderr
    assert len(strangers(tmp_path / "out")) == 1
