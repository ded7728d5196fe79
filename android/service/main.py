# The engine's process. Android starts it (CoachService), with its own folder and what the app hands over in the
# environment. No `from __future__` here: buildozer puts a line of its own before the first one.

import os

os.environ.setdefault("CADENCE_COACH_HOME", os.path.join(os.environ["ANDROID_PRIVATE"], "coach"))

from jnius import autoclass

from cadence_coach.live import on_phone
from cadence_coach.live.machine import phone_battery

CoachService = autoclass("cadencecoach.phone.CoachService")
phone_battery()  # looks its Java classes up, which only this thread can: the one that asks later cannot

if __name__ == "__main__":
    print("coach:", on_phone.run(os.environ.get("PYTHON_SERVICE_ARGUMENT", ""), CoachService.running()))
