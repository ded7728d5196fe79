"""Called by python-for-android between writing the manifest and building with it (spec: p4a.hook).

Its template has no place for a provider inside <application>, and it declares the service's base class as a second
service. Both are put right here, in the manifest it has written.
"""

from __future__ import annotations

import re
from pathlib import Path

MANIFEST = Path("src/main/AndroidManifest.xml")

PROVIDER = """
        <provider android:name="cadencecoach.phone.SharedFiles"
                  android:authorities="cadencecoach.phone.shared"
                  android:exported="false"
                  android:grantUriPermissions="true" />
    </application>"""

BASE_SERVICE = re.compile(r'\s*<service android:name="cadencecoach\.phone\.CoachService"[^>]*/>')
OUR_SERVICE = '<service android:name="cadencecoach.phone.ServiceCoach"'


def amended(manifest: str) -> str:
    """The manifest with the share sheet's provider, without the base class as a service; ValueError when it looks
    unknown."""
    for part in ("</application>", OUR_SERVICE):
        if manifest.count(part) != 1:
            raise ValueError(
                f"AndroidManifest.xml: {part} is there {manifest.count(part)} times, not once; is its template new?"
            )
    manifest = BASE_SERVICE.sub("", manifest)
    manifest = manifest.replace(OUR_SERVICE, f'{OUR_SERVICE}\n                 android:exported="false"')
    return manifest.replace("    </application>", PROVIDER.lstrip("\n"))


def before_apk_assemble(toolchain: object) -> None:
    MANIFEST.write_text(amended(MANIFEST.read_text("utf-8")), "utf-8")
