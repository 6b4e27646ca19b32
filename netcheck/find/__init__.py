"""What nobody described: bits that follow marks; signals of a DBC to roles, nodes to modules."""

from netcheck.find._draft import DraftChange, DraftedRole, DraftKind, draft_change
from netcheck.find._draft_quantity import quantity_change, written_scale
from netcheck.find._guided import Asking, AskKind, Pace, SearchGuide, rhythm
from netcheck.find._known import Known, KnownKind, KnownSamples, known_signal, ranges, track
from netcheck.find._marks import Asked, FindMark, MarkNote, MarkProblem
from netcheck.find._model import (
    BehindReason,
    CandidateKind,
    Cause,
    FieldCandidate,
    FoundField,
    NextExercise,
    NextKind,
    PutBehind,
    Search,
)
from netcheck.find._modules import ModuleProposal, propose_modules
from netcheck.find._movements import Movements, MovementTally, movements_of, read_movements
from netcheck.find._propose import propose_roles
from netcheck.find._propose_behaviour import with_behaviour
from netcheck.find._propose_comments import signal_comments
from netcheck.find._propose_model import Clue, ClueKind, Proposal, RoleProposals
from netcheck.find._quantities import find_quantity
from netcheck.find._quantity_model import (
    FittedScale,
    QuantityCandidate,
    QuantityNext,
    QuantityProblem,
    QuantitySearch,
    Sense,
)
from netcheck.find._search import find_states
from netcheck.find._unmarked import find_moved

__all__ = [
    "AskKind",
    "Asked",
    "Asking",
    "BehindReason",
    "CandidateKind",
    "Cause",
    "Clue",
    "ClueKind",
    "DraftChange",
    "DraftKind",
    "DraftedRole",
    "FieldCandidate",
    "FindMark",
    "FittedScale",
    "FoundField",
    "Known",
    "KnownKind",
    "KnownSamples",
    "MarkNote",
    "MarkProblem",
    "ModuleProposal",
    "MovementTally",
    "Movements",
    "NextExercise",
    "NextKind",
    "Pace",
    "Proposal",
    "PutBehind",
    "QuantityCandidate",
    "QuantityNext",
    "QuantityProblem",
    "QuantitySearch",
    "RoleProposals",
    "Search",
    "SearchGuide",
    "Sense",
    "draft_change",
    "find_moved",
    "find_quantity",
    "find_states",
    "known_signal",
    "movements_of",
    "propose_modules",
    "propose_roles",
    "quantity_change",
    "ranges",
    "read_movements",
    "rhythm",
    "signal_comments",
    "track",
    "with_behaviour",
    "written_scale",
]
