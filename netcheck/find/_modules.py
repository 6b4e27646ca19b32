"""Control units from the node names of DBC files; a usual name gets its module of the vocabulary."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from netcheck.database import Database
from netcheck.find._names import name_words
from netcheck.records import dataclass

# Usual node names of the trade, in small letters: module of the vocabulary -> words of a node's name.
_NODES: Final[Mapping[str, frozenset[str]]] = {
    "engine": frozenset(["engine", "motor", "ecm", "ems", "pcm", "dme", "ecu"]),
    "gearbox": frozenset(["gearbox", "transmission", "tcm", "tcu", "egs", "getriebe"]),
    "brakes": frozenset(["brakes", "brake", "abs", "esp", "esc", "dsc", "vsa", "ebcm"]),
    "steering": frozenset(["eps", "epas", "mdps", "pscm"]),
    "airbag": frozenset(["airbag", "srs", "acu", "rcm", "orc"]),
    "gateway": frozenset(["gateway", "gw", "gwm", "cgw"]),
    "body": frozenset(["body", "bcm", "bsi", "cem"]),
    "column": frozenset(["column", "scm", "sccm", "szl", "lenksaeule"]),
    "cluster": frozenset(["cluster", "clu", "ipc", "kombi", "icm"]),
    "radio": frozenset(["radio", "hu", "headunit", "ccc"]),
    "climate": frozenset(["climate", "hvac", "fatc", "datc"]),
    "trailer": frozenset(["trailer", "towing", "ahm"]),
    "park-distance": frozenset(["parkaid", "pdc", "pas", "spas"]),
}
_NOBODY: Final = frozenset({"xxx", "vector__xxx", "neo", "any", "none", "dummy", "tester"})


@dataclass(frozen=True)
class ModuleProposal:
    """A control unit that a DBC names.

    name:     a module of the vocabulary, or the node's name in small letters
    is_known: the name is one of the vocabulary, taken from a usual node name: a guess
    """

    name: str
    node: str
    networks: tuple[str, ...]
    is_known: bool


def propose_modules(databases: Mapping[str, Database]) -> tuple[ModuleProposal, ...]:
    """The control units that send something, by network -> its DBC; each node once, by name.

    The first node of a usual name gets the module's name; a second one keeps its own.
    """
    nodes: dict[str, list[str]] = {}
    for network, database in databases.items():
        for sender in sorted({node for message in database.messages for node in message.senders}):
            if sender.casefold() not in _NOBODY:
                nodes.setdefault(sender, []).append(network)
    found: dict[str, ModuleProposal] = {}
    for node in sorted(nodes):
        known = _known(node)
        name = known if known and known not in found else _slug(node)
        while name in found:
            name += "-2"
        found[name] = ModuleProposal(name, node, tuple(nodes[node]), is_known=name == known)
    return tuple(found.values())


def _known(node: str) -> str:
    words = {node.casefold(), *name_words(node)}
    return next((name for name, usual in _NODES.items() if usual & words), "")


def _slug(node: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", node.casefold()).strip("-") or "module"
