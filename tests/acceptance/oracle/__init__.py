"""What a small job comes to, worked out slowly from the rules of verdicts alone: one frame after the other.

Nothing here is netcheck's. ``judge`` gives an Outcome, to be compared with what a plan says.

Readings, where the rules leave something open:

Networks
- A DBC message is one that only the job's items send if an item on that network supplies its id and the
  channel has no frame of it.
- One explained 29-bit id is enough to be more than chance; otherwise the explained 11-bit ids decide.
- A channel without a data frame is a channel with nothing but diagnostics: no wrong tap.
- A network that "is identified by twice as many ids" passes the whole test of a channel that nobody declared.
- Diagnostic addresses of a module that the model year does not have are nobody's.
- A median of an even number of gaps is the mean of the two in the middle. Gaps of diagnostics count, for
  how long a network is awake, as any id's do.

Never seen
- It is awake for ten cycles over all its captures and channels together.
- A mark of the role counts whatever its state. A message that never came is not-exercised also for a need
  that asks for ``defined`` or ``present``: nothing of it was seen.

Rate
- The median, the 10th and the 90th percentile are of gaps between frames that carry the signal within a
  stretch, over all captures with times; percentiles by nearest rank.

Counters
- A copy that is sent more often: at least two values between the first and the last of a stretch, the
  median of their repeats is above one, each is repeated as often give or take one, those at the ends no
  more often.
- A copy that is sent less often: two steps or more, and at most 1 % of them are not the most frequent one.

Marks
- What is judged of a long mark is cut to its channel, from the first data frame to the last. At its very
  start a role without a value does not have the state.
- After the last frame of an awake stretch a role has no value.
- A mark counts once where two channels of one capture are the network: the channel that answers better.
- A mark by a raw number that is active calls for the active state, a range never does.
- ``inactive`` asks for a valid value, whichever, that is not active.

Doubtful networks
- The exception leaves the need to all rules that follow.

Choice
- An entry that is carried comes before one whose network is only captured, and that before the others.
- Several entries of one network: the first, as with a network of the item's own.
- A module that uses the signal and has no network in the vehicle file: the item's own network.

Wires, replacing, questions
- A need with ``used_by`` is never by wire, also where that module is not there.
- A replaced role takes all messages away that the model year maps it on.
- A role is replaced only if the model year maps it: else there is no old source. Where it is mapped, but not
  on the need's network, its sources are all that are mapped.
- ``used-by`` and ``supply-id`` do not ask whether the need is optional; ``supply-id`` does not ask on which
  network it is needed.
- The condition of a step or an exercise on a fact that nobody states is a question as that of a need is.

Overload
- A supply of unknown size takes no room that is known, but its item sends there as others do.
- Remote and error frames are nobody's frames here too.
"""

from tests.acceptance.oracle._needs import BadJob
from tests.acceptance.oracle._verdicts import ItemOutcome, Outcome, judge

__all__ = ["BadJob", "ItemOutcome", "Outcome", "judge"]
