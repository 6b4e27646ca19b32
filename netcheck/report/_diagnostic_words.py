"""Names of diagnostic services, identifiers, refusals and fault status bits.

After ISO 14229-1 and ISO 15031-5, from general libraries and from memory.
"""

from __future__ import annotations

from typing import Final

SERVICES: Final = {
    0x01: "read live data",
    0x02: "read a freeze frame",
    0x03: "read stored faults",
    0x04: "clear faults",
    0x05: "read oxygen sensor tests",
    0x06: "read test results",
    0x07: "read pending faults",
    0x08: "control a test",
    0x09: "read vehicle information",
    0x0A: "read permanent faults",
    0x10: "change the session",
    0x11: "reset the module",
    0x14: "clear faults",
    0x19: "read faults",
    0x22: "read",
    0x23: "read memory",
    0x24: "read scaling",
    0x27: "security access",
    0x28: "control communication",
    0x29: "authentication",
    0x2A: "read periodically",
    0x2C: "define an identifier",
    0x2E: "write",
    0x2F: "control inputs and outputs",
    0x31: "run a routine",
    0x34: "request a download",
    0x35: "request an upload",
    0x36: "transfer data",
    0x37: "end a transfer",
    0x38: "transfer a file",
    0x3D: "write memory",
    0x3E: "tester present",
    0x83: "change timing",
    0x84: "secured transmission",
    0x85: "switch fault storage",
    0x86: "respond on events",
    0x87: "control the link",
}

REFUSALS: Final = {
    0x10: "general reject",
    0x11: "service not supported",
    0x12: "sub-function not supported",
    0x13: "wrong length or format",
    0x14: "the answer would be too long",
    0x21: "busy, ask again",
    0x22: "conditions not correct",
    0x24: "wrong sequence of requests",
    0x25: "no answer from the network behind it",
    0x26: "a fault prevents it",
    0x31: "out of range",
    0x33: "security access denied",
    0x34: "authentication required",
    0x35: "wrong key",
    0x36: "too many attempts",
    0x37: "the waiting time is not over",
    0x70: "upload or download not accepted",
    0x71: "transfer suspended",
    0x72: "programming failed",
    0x73: "wrong block number",
    0x78: "response pending",
    0x7E: "sub-function not supported in this session",
    0x7F: "service not supported in this session",
    0x81: "engine speed too high",
    0x82: "engine speed too low",
    0x83: "engine is running",
    0x84: "engine is not running",
    0x85: "engine has not run long enough",
    0x86: "temperature too high",
    0x87: "temperature too low",
    0x88: "vehicle speed too high",
    0x89: "vehicle speed too low",
    0x8A: "accelerator pedal too far",
    0x8B: "accelerator pedal not far enough",
    0x8C: "gearbox not in neutral",
    0x8D: "gearbox not in gear",
    0x8F: "brake not pressed",
    0x90: "selector not in park",
    0x91: "torque converter locked",
    0x92: "voltage too high",
    0x93: "voltage too low",
    0x94: "resource not available for now",
}

IDENTIFIERS: Final = {
    0xF180: "boot software",
    0xF181: "application software",
    0xF182: "application data",
    0xF183: "boot software fingerprint",
    0xF184: "application software fingerprint",
    0xF185: "application data fingerprint",
    0xF186: "active session",
    0xF187: "spare part number",
    0xF188: "software number",
    0xF189: "software version",
    0xF18A: "supplier",
    0xF18B: "date of manufacture",
    0xF18C: "serial number",
    0xF18E: "kit part number",
    0xF190: "vehicle number (VIN)",
    0xF191: "hardware number",
    0xF192: "supplier's hardware number",
    0xF193: "supplier's hardware version",
    0xF194: "supplier's software number",
    0xF195: "supplier's software version",
    0xF196: "type approval number",
    0xF197: "system name or engine type",
    0xF198: "workshop or tester code",
    0xF199: "date of programming",
    0xF19D: "date of installation",
    0xF19E: "description file",
    0xF802: "vehicle number (VIN), mode 09",
    0xF804: "calibration, mode 09",
    0xF80A: "name, mode 09",
}

SESSIONS: Final = {1: "default", 2: "programming", 3: "extended", 4: "safety system"}

STATUS_BITS: Final = (
    "failing now",
    "failed this cycle",
    "pending",
    "confirmed",
    "not tested since cleared",
    "failed since cleared",
    "not tested this cycle",
    "warning lamp",
)


def service_name(service: int) -> str:
    """``write (0x2E)``."""
    name = SERVICES.get(service)
    return f"{name} (0x{service:02X})" if name else f"service 0x{service:02X}"


def refusal_name(code: int) -> str:
    """``security access denied (0x33)``."""
    name = REFUSALS.get(code)
    return f"{name} (0x{code:02X})" if name else f"code 0x{code:02X}"


def identifier_name(did: int) -> str:
    """``spare part number``; "" for an identifier of the maker's."""
    return IDENTIFIERS.get(did, "")


def session_name(session: int | None) -> str:
    """``extended session``; a session of the maker's has its number."""
    if session is None:
        return "session not seen"
    return f"{SESSIONS[session]} session" if session in SESSIONS else f"session 0x{session:02X}"


def status_words(status: int) -> list[str]:
    """What the bits of a fault's status byte say; tests not yet run only where nothing else is set."""
    found = [name for bit, name in enumerate(STATUS_BITS) if status >> bit & 1]
    tests = [name for name in found if name.startswith("not tested")]
    return [name for name in found if name not in tests] or tests
