"""What a small job comes to, worked out slowly from the rules of verdicts alone: one frame after the other.

Nothing here is netcheck's. ``judge`` gives an Outcome, to be compared with what a plan says.
"""

from tests.acceptance.oracle._needs import BadJob
from tests.acceptance.oracle._verdicts import ItemOutcome, Outcome, judge

__all__ = ["BadJob", "ItemOutcome", "Outcome", "judge"]
