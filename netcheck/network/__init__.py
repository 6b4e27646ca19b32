"""How a channel behaves: which network it is, what it carries, when it is awake."""

from typing import TYPE_CHECKING

from netcheck.doors import door

if TYPE_CHECKING:
    from netcheck.network._claims import J1939Name
    from netcheck.network._clock_offset import ClockOffset, clock_offset
    from netcheck.network._curve import LoadCurve
    from netcheck.network._gaps import Gaps, GapTally
    from netcheck.network._identity import (
        Candidate,
        Identity,
        IdentityLevel,
        explained_ids,
        identify,
        is_diagnostic,
        messages_by_id,
    )
    from netcheck.network._j1939 import J1939
    from netcheck.network._load import ChannelLoad, MessageLoad, Peak, merged_loads, ratio_of
    from netcheck.network._profiles import DataIds
    from netcheck.network._recorder import RecorderTraces, SkippingCounter
    from netcheck.network._remark_model import (
        AddressConflict,
        BatchedStamps,
        BusLoad,
        DbcFit,
        DiagnosticsOnly,
        DoubtfulNetwork,
        ErrorFrames,
        FewFrames,
        FramesMissing,
        IdsBeyond,
        LostByRecorder,
        MessagesRemark,
        MixedNetworks,
        NamedFrame,
        NetworkFit,
        NoNetwork,
        NotClear,
        OtherEdition,
        PausedMessages,
        Remark,
        RemarkKind,
        SameTimes,
        Stalled,
    )
    from netcheck.network._remarks import LONG_SECONDS
    from netcheck.network._response import Response, Timed, response_times
    from netcheck.network._serials import NumberedParts, SerialWatch
    from netcheck.network._stub import safe_stub
    from netcheck.network._survey import SurveyMeter, SurveyPlan, survey, survey_rates
    from netcheck.network._survey_model import (
        Bits,
        ByteKind,
        ChannelSurvey,
        ChecksumFinding,
        ChecksumKind,
        Counter,
        DataIdMode,
        DataIdProblem,
        DataIdProblemKind,
        Load,
        LoadRates,
        Ranked,
        Survey,
        SurveyedMessage,
        Timing,
    )
    from netcheck.network._tally import READ_ONCE, Entries, FrameTally
    from netcheck.network._tally_book import Placed
    from netcheck.network._traffic import SILENCE_NS, SILENCE_SHARE, FrameId, Traffic, TrafficTally
    from netcheck.network._wire import worst_case_bits, worst_case_fd_bits
else:
    __getattr__ = door(
        __name__,
        {
            "_claims": "J1939Name",
            "_clock_offset": "ClockOffset clock_offset",
            "_curve": "LoadCurve",
            "_gaps": "Gaps GapTally",
            "_identity": (
                "Candidate Identity IdentityLevel explained_ids identify is_diagnostic messages_by_id"
            ),
            "_j1939": "J1939",
            "_load": "ChannelLoad MessageLoad Peak merged_loads ratio_of",
            "_profiles": "DataIds",
            "_recorder": "RecorderTraces SkippingCounter",
            "_remark_model": (
                "AddressConflict BatchedStamps BusLoad DbcFit DiagnosticsOnly DoubtfulNetwork ErrorFrames "
                "FewFrames FramesMissing IdsBeyond LostByRecorder MessagesRemark MixedNetworks NamedFrame "
                "NetworkFit NoNetwork NotClear OtherEdition PausedMessages Remark RemarkKind SameTimes "
                "Stalled"
            ),
            "_remarks": "LONG_SECONDS",
            "_response": "Response Timed response_times",
            "_serials": "NumberedParts SerialWatch",
            "_stub": "safe_stub",
            "_survey": "SurveyMeter SurveyPlan survey survey_rates",
            "_survey_model": (
                "Bits ByteKind ChannelSurvey ChecksumFinding ChecksumKind Counter DataIdMode "
                "DataIdProblem DataIdProblemKind Load LoadRates Ranked Survey SurveyedMessage Timing"
            ),
            "_tally": "READ_ONCE Entries FrameTally",
            "_tally_book": "Placed",
            "_traffic": "SILENCE_NS SILENCE_SHARE FrameId Traffic TrafficTally",
            "_wire": "worst_case_bits worst_case_fd_bits",
        },
    )

__all__ = [
    "J1939",
    "LONG_SECONDS",
    "READ_ONCE",
    "SILENCE_NS",
    "SILENCE_SHARE",
    "AddressConflict",
    "BatchedStamps",
    "Bits",
    "BusLoad",
    "ByteKind",
    "Candidate",
    "ChannelLoad",
    "ChannelSurvey",
    "ChecksumFinding",
    "ChecksumKind",
    "ClockOffset",
    "Counter",
    "DataIdMode",
    "DataIdProblem",
    "DataIdProblemKind",
    "DataIds",
    "DbcFit",
    "DiagnosticsOnly",
    "DoubtfulNetwork",
    "Entries",
    "ErrorFrames",
    "FewFrames",
    "FrameId",
    "FrameTally",
    "FramesMissing",
    "GapTally",
    "Gaps",
    "Identity",
    "IdentityLevel",
    "IdsBeyond",
    "J1939Name",
    "Load",
    "LoadCurve",
    "LoadRates",
    "LostByRecorder",
    "MessageLoad",
    "MessagesRemark",
    "MixedNetworks",
    "NamedFrame",
    "NetworkFit",
    "NoNetwork",
    "NotClear",
    "NumberedParts",
    "OtherEdition",
    "PausedMessages",
    "Peak",
    "Placed",
    "Ranked",
    "RecorderTraces",
    "Remark",
    "RemarkKind",
    "Response",
    "SameTimes",
    "SerialWatch",
    "SkippingCounter",
    "Stalled",
    "Survey",
    "SurveyMeter",
    "SurveyPlan",
    "SurveyedMessage",
    "Timed",
    "Timing",
    "Traffic",
    "TrafficTally",
    "clock_offset",
    "explained_ids",
    "identify",
    "is_diagnostic",
    "merged_loads",
    "messages_by_id",
    "ratio_of",
    "response_times",
    "safe_stub",
    "survey",
    "survey_rates",
    "worst_case_bits",
    "worst_case_fd_bits",
]
