"""How a channel behaves: which network it is, what it carries, when it is awake."""

from netcheck.network._identity import Candidate, Identity, explained_ids, identify, messages_by_id
from netcheck.network._traffic import FrameId, Traffic, TrafficTally, stretch_breaks

__all__ = [
    "Candidate",
    "FrameId",
    "Identity",
    "Traffic",
    "TrafficTally",
    "explained_ids",
    "identify",
    "messages_by_id",
    "stretch_breaks",
]
