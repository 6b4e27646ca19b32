"""Which bits of a capture a role is, where nobody described the vehicle: marks to candidates."""

from netcheck.find._marks import Asked, FindMark, MarkNote, MarkProblem
from netcheck.find._model import (
    BehindReason,
    FieldCandidate,
    CandidateKind,
    Cause,
    Fit,
    FoundField,
    NextExercise,
    NextKind,
    PutBehind,
    Search,
)
from netcheck.find._movements import Movements, MovementTally, movements_of, read_movements
from netcheck.find._search import find_states

__all__ = [
    "Asked",
    "BehindReason",
    "FieldCandidate",
    "CandidateKind",
    "Cause",
    "FindMark",
    "Fit",
    "FoundField",
    "MarkNote",
    "MarkProblem",
    "MovementTally",
    "Movements",
    "NextExercise",
    "NextKind",
    "PutBehind",
    "Search",
    "find_states",
    "movements_of",
    "read_movements",
]
