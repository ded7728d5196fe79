# The screen's process: sets the data folder, then the app, which attaches to the engine through the socket in that
# folder.

import os

os.environ.setdefault("CADENCE_COACH_HOME", os.path.join(os.environ["ANDROID_PRIVATE"], "coach"))

from host import Host

from cadence_coach.app import run

if __name__ == "__main__":
    run(host=Host())
