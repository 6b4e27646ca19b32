"""Many captures as one store of Parquet files, and questions to it.

>>> import netcheck.archive
>>> with netcheck.archive.open_archive() as archive:  # doctest: +SKIP
...     archive.sql("SELECT year, count(*) FROM captures GROUP BY year").df()
"""

from netcheck.archive._add import Added, Adder
from netcheck.archive._ask import Answer, Archive, open_archive
from netcheck.archive._check import ArchiveCheck, ClaimFinding, ClaimKind, check_claims
from netcheck.archive._cluster import claims_by_workers, reader_for
from netcheck.archive._compact import Compacted, compact, compact_if_it_pays
from netcheck.archive._peers import with_peers
from netcheck.archive._private import Exported, Forgotten, export, forget
from netcheck.archive._questions import (
    QUESTIONS,
    Answered,
    MessageYear,
    NamedQuestion,
    RoleYear,
    YearDifference,
    ask_named,
    message_years,
    role_years,
)
from netcheck.archive._read import VehicleRead, WantedCapture, read_vehicle
from netcheck.archive._schema import TABLES, ArchiveColumn, ArchiveTable
from netcheck.archive._show import (
    CaptureShown,
    ChannelShown,
    StoreShown,
    YearHeld,
    show_capture,
    show_store,
)
from netcheck.archive._store import Manifest, Store, StoreChange, StorePart, default_folder, open_store
from netcheck.archive._usual import BesidePeers, Unusual, UnusualKind, beside_peers
from netcheck.archive._wanted import CaptureFacts, FoundCaptures, find_captures

__all__ = [
    "QUESTIONS",
    "TABLES",
    "Added",
    "Adder",
    "Answer",
    "Answered",
    "Archive",
    "ArchiveCheck",
    "ArchiveColumn",
    "ArchiveTable",
    "BesidePeers",
    "CaptureFacts",
    "CaptureShown",
    "ChannelShown",
    "ClaimFinding",
    "ClaimKind",
    "Compacted",
    "Exported",
    "Forgotten",
    "FoundCaptures",
    "Manifest",
    "MessageYear",
    "NamedQuestion",
    "RoleYear",
    "Store",
    "StoreChange",
    "StorePart",
    "StoreShown",
    "Unusual",
    "UnusualKind",
    "VehicleRead",
    "WantedCapture",
    "YearDifference",
    "YearHeld",
    "ask_named",
    "beside_peers",
    "check_claims",
    "claims_by_workers",
    "compact",
    "compact_if_it_pays",
    "default_folder",
    "export",
    "find_captures",
    "forget",
    "message_years",
    "open_archive",
    "open_store",
    "read_vehicle",
    "reader_for",
    "role_years",
    "show_capture",
    "show_store",
    "with_peers",
]
