"""How a channel behaves: which network it is, what it carries, when it is awake."""

from netcheck.network._claims import J1939Name
from netcheck.network._identity import (
    Candidate,
    Identity,
    explained_ids,
    identify,
    may_be_chance,
    messages_by_id,
)
from netcheck.network._j1939 import J1939
from netcheck.network._load_tally import ChannelLoad, LoadTally, MessageLoad, merged_loads
from netcheck.network._profiles import DataIds
from netcheck.network._response import Response, Timed, response_times
from netcheck.network._survey import SurveyPlan, survey, survey_rates
from netcheck.network._survey_model import (
    Bits,
    ByteKind,
    ChannelSurvey,
    ChecksumFinding,
    Counter,
    Load,
    LoadRates,
    Ranked,
    Remark,
    RemarkKind,
    Survey,
    SurveyedMessage,
    Timing,
)
from netcheck.network._tally import Entries, FrameTally, Placed
from netcheck.network._traffic import FrameId, Traffic, TrafficTally, stretch_breaks
from netcheck.network._wire import capture_bits, frame_bits, worst_case_bits, worst_case_fd_bits

__all__ = [
    "J1939",
    "Bits",
    "ByteKind",
    "Candidate",
    "ChannelLoad",
    "ChannelSurvey",
    "ChecksumFinding",
    "Counter",
    "DataIds",
    "Entries",
    "FrameId",
    "FrameTally",
    "Identity",
    "J1939Name",
    "Load",
    "LoadRates",
    "LoadTally",
    "MessageLoad",
    "Placed",
    "Ranked",
    "Remark",
    "RemarkKind",
    "Response",
    "Survey",
    "SurveyPlan",
    "SurveyedMessage",
    "Timed",
    "Timing",
    "Traffic",
    "TrafficTally",
    "capture_bits",
    "explained_ids",
    "frame_bits",
    "identify",
    "may_be_chance",
    "merged_loads",
    "messages_by_id",
    "response_times",
    "stretch_breaks",
    "survey",
    "survey_rates",
    "worst_case_bits",
    "worst_case_fd_bits",
]
