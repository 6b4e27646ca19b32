"""What nobody described: signals of a DBC to roles, nodes of a DBC to modules."""

from netcheck.find._modules import ModuleProposal, propose_modules
from netcheck.find._propose import propose_roles
from netcheck.find._propose_behaviour import with_behaviour
from netcheck.find._propose_comments import signal_comments
from netcheck.find._propose_model import Clue, ClueKind, Proposal, RoleProposals

__all__ = [
    "Clue",
    "ClueKind",
    "ModuleProposal",
    "Proposal",
    "RoleProposals",
    "propose_modules",
    "propose_roles",
    "signal_comments",
    "with_behaviour",
]
