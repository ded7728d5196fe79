"""The coach as it runs: shell, snapshot, commands, sound of events, the local protocol for screens."""

from cadence_coach.live.begin import Plan, begin, rescue_all
from cadence_coach.live.serve import Client, Server
from cadence_coach.live.shell import Live
from cadence_coach.live.snapshot import PROTOCOL, Snapshot

__all__ = ["PROTOCOL", "Client", "Live", "Plan", "Server", "Snapshot", "begin", "rescue_all"]
