"""Numbers of the diagnostic services: UDS (ISO 14229-1) and on-board diagnostics (ISO 15031-5, SAE J1979).

Taken from general libraries and from memory; the words for them stand in ``report``.
"""

from __future__ import annotations

from typing import Final

# Requests. The positive answer is the request plus ``ANSWER``.
SESSION: Final = 0x10
RESET: Final = 0x11
CLEAR_FAULTS: Final = 0x14
READ_FAULTS: Final = 0x19
READ: Final = 0x22
SECURITY: Final = 0x27
AUTHENTICATION: Final = 0x29
WRITE: Final = 0x2E
ROUTINE: Final = 0x31
TESTER_PRESENT: Final = 0x3E
OBD_DATA: Final = 0x01
OBD_STORED: Final = 0x03
OBD_CLEAR: Final = 0x04
OBD_PENDING: Final = 0x07
OBD_INFO: Final = 0x09
OBD_PERMANENT: Final = 0x0A

ANSWER: Final = 0x40
NEGATIVE: Final = 0x7F
PENDING: Final = 0x78  # negative response: the answer follows later
BUSY: Final = 0x21  # negative response: ask again
NO_ANSWER_WANTED: Final = 0x80  # of a sub-function: a positive answer is not to be sent

REQUESTS: Final = frozenset(
    (
        *range(0x01, 0x0B),
        *(SESSION, RESET, CLEAR_FAULTS, READ_FAULTS, READ, 0x23, 0x24, SECURITY, 0x28, AUTHENTICATION),
        *(0x2A, 0x2C, WRITE, 0x2F, ROUTINE, 0x34, 0x35, 0x36, 0x37, 0x38, 0x3D, TESTER_PRESENT),
        *range(0x83, 0x88),
    )
)
SERVICE_BYTES: Final = REQUESTS | {service + ANSWER for service in REQUESTS} | {NEGATIVE}
# Services whose first byte after the service tells which answer is theirs.
_SUB_FUNCTIONS: Final = frozenset(
    (SESSION, RESET, READ_FAULTS, SECURITY, 0x28, AUTHENTICATION, ROUTINE, TESTER_PRESENT, 0x85)
)
_TYPED: Final = frozenset((OBD_DATA, 0x02, 0x05, 0x06, 0x08, OBD_INFO))

FUNCTIONAL: Final = frozenset(((0x7DF, False), (0x18DB33F1, True)))  # to all modules (ISO 15765-4)

VIN: Final = 0xF190
OBD_INFO_BASE: Final = 0xF800  # data identifiers of the information types of mode 09 (ISO 14229-1)
OBD_VIN: Final = 0xF802
OBD_CALIBRATION: Final = 0xF804
ACTIVE_SESSION: Final = 0xF186
_DATES: Final = frozenset((0xF18B, 0xF199, 0xF19D))
_DATE_SIGNS: Final = frozenset(b"0123456789-./ ")


def is_identification(did: int) -> bool:
    """Whether a data identifier tells what the module is, not how it is coded."""
    return 0xF100 <= did <= 0xF1FF or OBD_INFO_BASE <= did <= OBD_INFO_BASE + 0xFF


def identification_text(did: int, data: bytes) -> str:
    """Text where the bytes are text, without filling; else hex."""
    text = data.rstrip(b"\x00\xff ").lstrip(b"\x00")
    printable = len(text) > 1 and all(0x20 <= byte <= 0x7E for byte in text)
    if printable and (did not in _DATES or set(text) <= _DATE_SIGNS):
        return text.decode("ascii").strip()
    return data.hex().upper()


def answers(request: bytes, answer: bytes) -> bool:
    """Whether a message answers a request, as far as its first bytes tell."""
    service = request[0]
    if answer[0] == NEGATIVE:
        return len(answer) > 1 and answer[1] == service
    if answer[0] != service + ANSWER:
        return False
    if service in {READ, WRITE}:
        asked = request[1:] if service == READ else request[1:3]
        return answer[1:3] in {asked[at : at + 2] for at in range(0, len(asked), 2)}
    if service in _SUB_FUNCTIONS:
        return len(request) > 1 and len(answer) > 1 and answer[1] == request[1] & ~NO_ANSWER_WANTED
    if service in _TYPED:
        return len(answer) > 1 and answer[1] in request[1:]
    return True


def is_silent(request: bytes) -> bool:
    """Whether the request asks for no positive answer."""
    has_function = request[0] in _SUB_FUNCTIONS and len(request) > 1
    return has_function and bool(request[1] & NO_ANSWER_WANTED)
