"""DBC files: loaded or refused, kept as JSON, and decoded."""

from __future__ import annotations

import json
import random
from pathlib import Path

from netcheck.capture import EXTENDED
from netcheck.database import decode, from_plain, load_database, to_plain
from netcheck.report import database_warnings
from tests.bench.vans import BODY, REAR
from tests.captures import Frame, hand_made
from tests.fuzz.harness import refused, target
from tests.fuzz.mutate import BYTES, NUMBERS, mutated_bytes, mutated_text
from tests.fuzz.van import COMFORT, DRIVE

FAR = """VERSION ""
BU_: A B
BO_ 2566844926 Far: 8 A
 SG_ Outer M : 0|4@1+ (1,0) [0|0] "" B
 SG_ Inner m1M : 4|4@1+ (1,0) [0|0] "" B
 SG_ Leaf m2 : 8|32@1- (1,0) [0|0] "" B
BA_DEF_ BO_ "VFrameFormat" ENUM "StandardCAN","ExtendedCAN","reserved","J1939PG";
BA_DEF_ BU_ "NmStationAddress" INT 0 255;
BA_DEF_ SG_ "GenSigStartValue" INT -100000 100000;
BA_DEF_DEF_ "NmStationAddress" 254;
BA_DEF_DEF_ "VFrameFormat" "StandardCAN";
BA_DEF_DEF_ "GenSigStartValue" 0;
BA_ "NmStationAddress" BU_ A 39;
BA_ "VFrameFormat" BO_ 2566844926 3;
BA_ "GenSigStartValue" SG_ 2566844926 Leaf 12;
SIG_VALTYPE_ 2566844926 Leaf : 1;
SG_MUL_VAL_ 2566844926 Inner Outer 1-1, 5-6;
SG_MUL_VAL_ 2566844926 Leaf Inner 2-3;
SIG_GROUP_ 2566844926 G 1 : Outer Inner;
CM_ SG_ 2566844926 Leaf "a comment; with \\"quotes\\"";
"""
TEXTS = (BODY, REAR, COMFORT, DRIVE, FAR)
WORDS = (
    *NUMBERS, "M", "m0", "m1M", "m99999", "@0-", "@1+", "0|0@1+", "63|64@0+", "7|65@1-", "[0|0]", "(0,0)",
    "(1e400,0)", "BO_", "SG_", "VAL_", "SG_MUL_VAL_", "SIG_VALTYPE_", "BA_", ":", ";", ",", '"', "//", "2x",
    "0-65535", "Vector__XXX", "VECTOR__INDEPENDENT_SIG_MSG", "2147483648", "3221225472", "[nan|inf]",
    "(nan,inf)",
)  # fmt: skip


@target("dbc")
def dbc(chance: random.Random, folder: Path) -> None:
    """A spoilt DBC is refused with its name, or all that is read of it can be kept and decoded."""
    path = folder / "x.dbc"
    text = chance.choice(TEXTS)
    if chance.randrange(4):
        path.write_text(mutated_text(chance, text, WORDS), encoding="utf-8")
    else:
        tokens = (*BYTES, *(word.encode() for word in WORDS))
        path.write_bytes(mutated_bytes(chance, text.encode(), tokens))
    database = refused(lambda: load_database(path, cache=False))
    if database is None:
        return
    assert from_plain(json.loads(json.dumps(to_plain(database), allow_nan=False))) == database
    assert all(text.startswith(f"{path}: ") and "\n" not in text for text in database_warnings(database))
    frames = [
        Frame(
            message.can_id, chance.randbytes(min(message.length, 64)), EXTENDED if message.is_extended else 0
        )
        for message in database.messages
    ]
    if frames:
        decode(hand_made(frames), database)
