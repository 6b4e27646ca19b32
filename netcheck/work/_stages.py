"""The stages of a job on the ramp, in their order, and the gates between them.

Power goes off once and comes back once, whatever the number of parts. What needs more comes later: standing,
engine running, yard, road. Common practice, from the trade.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import Final, Literal

from netcheck.files import Phase
from netcheck.records import dataclass
from netcheck.work._actions import Action, Caution

Stage = Literal[
    "before",
    "power-down",
    "fit",
    "power-up",
    "code",
    "standing",
    "engine",
    "yard",
    "road",
    "handover",
]
GateCheck = Literal[
    "verdict",
    "noted",
    "sources-off",
    "waited",
    "joined",
    "cab-empty",
    "supply-steady",
    "nothing-warm",
    "read-back",
    "airbag-lamp",
    "stability-lamp",
    "warning-lamps",
    "no-new-fault",
    "brakes",
]

PHASE_OF: Final[dict[Stage, Phase]] = {
    "before": "before",
    "power-down": "fit",
    "fit": "fit",
    "power-up": "fit",
    "code": "code",
    "standing": "prove",
    "engine": "prove",
    "yard": "prove",
    "road": "prove",
    "handover": "handover",
}
STAGES: Final[tuple[Stage, ...]] = tuple(PHASE_OF)

# What must hold before a stage is left.
_LEAVING: Final[dict[Stage, tuple[GateCheck, ...]]] = {
    "before": ("verdict", "noted"),
    "power-down": ("sources-off", "waited"),
    "fit": ("joined",),
    "power-up": ("supply-steady", "nothing-warm"),
    "code": ("read-back",),
    "standing": ("airbag-lamp", "stability-lamp", "no-new-fault"),
    "engine": ("warning-lamps", "no-new-fault"),
    "yard": ("brakes", "warning-lamps", "no-new-fault"),
    "road": ("warning-lamps", "no-new-fault"),
}


@dataclass(frozen=True)
class Step:
    """One line of the checklist. items: names of the retrofits that it is for; none: the job as a whole."""

    stage: Stage
    items: tuple[str, ...]
    action: Action

    @property
    def phase(self) -> Phase:
        """The phase that the stage belongs to."""
        return PHASE_OF[self.stage]

    @property
    def caution(self) -> bool:
        """Whether it is to be minded, not ticked off."""
        return isinstance(self.action, Caution)

    @property
    def is_gate(self) -> bool:
        """Whether the next stage waits for it."""
        return isinstance(self.action, Gate)

    @property
    def item(self) -> str:
        """The one item that it is for; "" for several, or the job as a whole."""
        return self.items[0] if len(self.items) == 1 else ""


@dataclass(frozen=True)
class Gate(Action):
    """Nothing of the next stage begins before these hold."""

    opens: Stage
    checks: tuple[GateCheck, ...]


def in_order(steps: Sequence[Step], writes: bool) -> Iterator[Step]:
    """The steps by stage, each in the order given, with a gate between one stage and the next.

    writes: whether coding is written at all. Nothing is behind a gate where there is nothing to fit.
    """
    present = [stage for stage in STAGES if any(step.stage == stage for step in steps)]
    for stage, following in zip(present, [*present[1:], None], strict=True):
        yield from (step for step in steps if step.stage == stage)
        if following is not None:
            checks = _checks(stage, following, present, writes)
            if checks:
                yield Step(stage, (), Gate(following, checks))


def _checks(
    stage: Stage, following: Stage, present: Collection[Stage], writes: bool
) -> tuple[GateCheck, ...]:
    if stage == "code" and not writes:
        return ()
    if stage == "fit" and following == "power-up":
        return (*_LEAVING[stage], "cab-empty")
    if stage == "fit" and "power-up" not in present:
        return (*_LEAVING[stage], *_LEAVING["power-up"])
    return _LEAVING[stage]
