"""An archive of captures: what was added, what it holds, and what it says to a question."""

from netcheck.report._archive_answers import answer_csv, answer_json, answer_text, named_json, named_text
from netcheck.report._archive_claims import claims_json, claims_text
from netcheck.report._archive_peers import peers_json, peers_page, unusual_text
from netcheck.report._archive_store import (
    added_json,
    added_text,
    capture_json,
    capture_text,
    compacted_json,
    compacted_text,
    exported_json,
    exported_text,
    forgotten_json,
    forgotten_text,
    store_json,
    store_text,
    tables_json,
    tables_text,
)

__all__ = [
    "added_json",
    "added_text",
    "answer_csv",
    "answer_json",
    "answer_text",
    "capture_json",
    "capture_text",
    "claims_json",
    "claims_text",
    "compacted_json",
    "compacted_text",
    "exported_json",
    "exported_text",
    "forgotten_json",
    "forgotten_text",
    "named_json",
    "named_text",
    "peers_json",
    "peers_page",
    "store_json",
    "store_text",
    "tables_json",
    "tables_text",
    "unusual_text",
]
