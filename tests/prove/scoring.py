"""``python -m tests.prove.scoring [PAIRS]``: how well changes are found, on seeded pairs of recordings.

Of each kind of change pairs with it, and as many pairs without any as of all kinds together.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from netcheck.prove import Proof, prove
from tests.prove.pairs import NEEDED, PLANTS, Pair


@dataclass(frozen=True)
class Score:
    """One pair. planted: kind, "" for none; found: by id or kind; others: kinds reported besides."""

    seed: int
    planted: str
    is_found: bool
    others: tuple[str, ...]
    verdict: str


def score(seed: int, planted: str) -> Score:
    """A pair is made, proven and thrown away."""
    pair = Pair(seed)
    while planted in NEEDED and not pair.has(NEEDED[planted]):
        pair = Pair(seed := seed + 100_000)
    where = PLANTS[planted](pair) if planted else ""
    with tempfile.TemporaryDirectory(prefix="netcheck-prove-") as folder:
        proof = prove(pair.write(Path(folder)))
    return Score(
        seed,
        planted,
        any(kind == planted and where in {name, can_id, ""} for kind, name, can_id in reported(proof)),
        tuple(sorted({kind for kind, *at in reported(proof) if not where or where not in at} - {planted})),
        proof.verdict.value,
    )


def reported(proof: Proof) -> Iterator[tuple[str, str, str]]:
    """Kind, message and id of everything that nobody planned."""
    for change in proof.changes:
        if not change.is_planned:
            message = getattr(change, "message", None)
            yield change.kind.value, message.name if message else "", str(message.frame_id) if message else ""


def main() -> None:
    pairs = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    with ProcessPoolExecutor(2) as pool:
        _print(pairs, pool)


def _print(pairs: int, pool: Executor) -> None:
    each = max(1, -(-pairs // len(PLANTS)))
    for kind in PLANTS:
        scores = list(pool.map(score, [1000 * number + len(kind) for number in range(each)], [kind] * each))
        found = sum(one.is_found for one in scores)
        alarms = [one for one in scores if one.others]
        sys.stdout.write(f"{kind}: {found} of {each} found, {len(alarms)} with another alarm\n")
        for one in scores:
            if not one.is_found or one.others:
                sys.stdout.write(f"    {one}\n")
        sys.stdout.flush()
    scores = list(pool.map(score, range(7_000_000, 7_000_000 + pairs), [""] * pairs))
    quiet = [one for one in scores if not one.others]
    sys.stdout.write(f"none: {len(quiet)} of {pairs} without an alarm\n")
    for one in scores:
        if one.others:
            sys.stdout.write(f"    {one}\n")


if __name__ == "__main__":
    main()
