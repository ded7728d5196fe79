"""The engine's service and the screen's process, as Android starts, asks and ends them. See scenarios.py."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from jnius import autoclass

Context = autoclass("android.content.Context")
Drive = autoclass("cadencecoach.phone.Drive")


def service() -> dict[str, Any]:
    """The foreground service: types with and without permission, refused from behind, its notification, "End"."""
    Notes = autoclass("android.app.NotificationManager").pretendOnly
    Held = autoclass("android.os.PowerManager")
    Base = autoclass("android.app.Service")
    Held.pretendHeld = 0  # the scenarios before left theirs
    coach = Drive.service("Coach")
    out = {"types": coach.pretendTypes, "held": Held.pretendHeld, "importance": Notes.pretendChannel.pretendImportance}
    out["text"], out["title"] = Notes.pretendShown.pretendText, Notes.pretendShown.pretendTitle
    out["action"] = Notes.pretendShown.pretendAction
    coach.say("the last outing was cut off and is whole again")
    out["said"] = Notes.pretendShown.pretendText
    out["asked"] = [coach.endAsked()]
    Drive.pressEnd(coach)
    out["asked"].append(coach.endAsked())
    out["next"] = [coach.nextPlan()]
    Drive.bring(coach, Drive.send(coach), "the second plan")
    out["asked"].append(coach.endAsked())
    out["over"] = [coach.over("kept")]  # the app has asked for another outing
    out["next"] += [coach.nextPlan(), coach.nextPlan()]
    start = Drive.send(coach)
    out["over"].append(coach.over("kept"))  # it has, though nothing has come yet
    Drive.bring(coach, start, "the third plan")
    out["types_third"] = coach.pretendTypes
    out["next"].append(coach.nextPlan())
    out["over"].append(coach.over("kept"))
    out["stopped"] = coach.pretendStopped
    left = Notes.pretendShown
    out["left"] = [left.pretendText, left.pretendOngoing, left.pretendAction]
    coach.onDestroy()
    out["held_after"] = Held.pretendHeld
    out["killed"] = autoclass("android.os.Process").pretendKilled
    out["over"].append(Drive.service("Coach").over(""))
    out["nothing_left"] = Notes.pretendShown is None
    Context.pretendDenied.add("android.permission.ACCESS_FINE_LOCATION")
    out["types_without_place"] = Drive.service("Coach").pretendTypes
    Context.pretendDenied.clear()
    Base.pretendRefused = 8
    out["types_from_behind"] = Drive.service("Coach").pretendTypes
    Base.pretendRefused = 10
    out["types_refused"] = Drive.service("Coach").pretendTypes
    return out


def host(folder: str) -> dict[str, Any]:
    """The screen's process: permissions, start of the engine, share sheet with its provider, battery saver."""
    sys.path.insert(0, str(Path(__file__).parents[2] / "android"))
    autoclass("java.lang.System").setProperty("standin.files", folder)
    Drive.activity()
    import host as android_host

    SharedFiles = autoclass("cadencecoach.phone.SharedFiles")
    phone_host = android_host.Host()
    out: dict[str, Any] = {"missing": [phone_host.missing()]}
    Context.pretendDenied.add("android.permission.ACCESS_FINE_LOCATION")
    Context.pretendDenied.add("android.permission.POST_NOTIFICATIONS")
    out["missing"].append(phone_host.missing())
    phone_host.ask()
    out["asked"] = list(android_host.PythonActivity.mActivity.pretendAsked)
    phone_host.start("the plan")
    out["argument"] = Context.pretendStarted.getExtras().getString("pythonServiceArgument")
    file = Path(folder) / "a ride.gpx"
    file.write_text("<gpx/>")
    phone_host.share(file, "Share")
    sent = Context.pretendStarted.pretendInner
    out["sent"] = [Context.pretendStarted.getAction(), sent.getAction(), sent.pretendType, sent.pretendFlags]
    out["uri"] = sent.pretendStream.toString()
    provider = SharedFiles()
    rows = provider.query(sent.pretendStream, None, None, None, None)
    out["query"] = [rows.getCount(), rows.getString(0), rows.getString(1)]
    out["opened"] = provider.openFile(sent.pretendStream, "r").pretendPath
    out["refused"] = []
    Builder = autoclass("android.net.Uri$Builder")
    for path, mode in (("a ride.gpx", "w"), ("..", "r"), ("nothing.txt", "r")):
        try:
            provider.openFile(Builder().scheme("content").authority("x").path(path).build(), mode)
        except Exception as error:
            out["refused"].append("FileNotFoundException" in str(error))
    out["spared"] = phone_host.spared()
    phone_host.open_battery_settings()
    out["settings"] = Context.pretendStarted.getAction()
    return out
