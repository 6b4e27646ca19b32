"""What is said before netcheck asks modules itself, and when it has to stop."""

from __future__ import annotations

from typing import Final

from netcheck.diagnostics.live import AskedModule
from netcheck.words import counted, id_text

LIVE_CAUTIONS: Final = (
    "the vehicle stands still and is secured, engine off, nobody drives or works at it meanwhile",
    "the owner agrees that its modules are read, and local rules allow it",
    "the battery is supported or well charged; other testers and dongles are unplugged",
    "netcheck uses reading services only (0x22, 0x19, 0x3E), one request at a time, in the default session",
)
OTHER_TESTER: Final = "another tester began to talk, so asking was stopped; what was read until here follows"


def asked_text(module: AskedModule) -> str:
    """``gateway: 8 reading requests on 0x6A0, answers on 0x6B0``."""
    requests = counted(len(module.requests()), "reading request")
    return f"{module.name}: {requests} on {id_text(*module.request)}, answers on {id_text(*module.response)}"
