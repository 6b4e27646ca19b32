"""The oracle's conflicts, questions and verdicts: what the judged needs come to."""

from __future__ import annotations

from dataclasses import dataclass

from tests.acceptance.oracle._fit import Row, Wish, wishes_of
from tests.acceptance.oracle._needs import Judge, Told, roles_of
from tests.acceptance.small_jobs import Fact, Job, Msg, Part

ORDER = ("go", "go-with-changes", "unproven", "no-go")


@dataclass(frozen=True)
class ItemOutcome:
    verdict: str
    needs: tuple[Told, ...]
    conflicts: frozenset[str]
    questions: tuple[str, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Outcome:
    verdict: str
    items: tuple[ItemOutcome, ...]
    writes: tuple[tuple[str, int, str, str], ...]


def judge(job: Job) -> Outcome:
    """The job's outcome. Raises BadJob where the rules say that it is an error."""
    verdicts = Verdicts(job)
    items = tuple(verdicts.item(number) for number in range(len(job.parts)))
    worst = max((item.verdict for item in items), key=ORDER.index)
    every_wish = [wish for wishes in verdicts.wishes for wish in wishes]
    return Outcome(worst, items, verdicts.judge.fit.writes(every_wish))


def is_one_of(fact: Fact, any_of: tuple[Fact, ...]) -> bool:
    """Whether a fact suits; true is not the number 1."""
    return any((type(fact), fact) == (type(other), other) for other in any_of)


class Verdicts:
    def __init__(self, job: Job) -> None:
        self.job, self.judge = job, Judge(job)
        self.needs = [[self.judge.need(part, need) for need in part.needs] for part in job.parts]
        self.wishes = [self._wishes(part, told) for part, told in zip(job.parts, self.needs, strict=True)]

    def _wishes(self, part: Part, told: list[Told]) -> list[Wish]:
        looks = [self.judge.look(need.role, part.network) for need in part.needs]
        locked = [look for look, one in zip(looks, told, strict=True) if one.reason == "locked"]
        return wishes_of(part, [look.entry.unlock for look in locked])

    def item(self, number: int) -> ItemOutcome:
        part, told, wishes = self.job.parts[number], self.needs[number], self.wishes[number]
        rows = {(wish.module, wish.field, str(wish.value)): self.judge.fit.row(wish) for wish in wishes}
        conflicts = frozenset(self.conflicts(part, told, wishes, list(rows.values())))
        questions = tuple(sorted({fact for fact, _ in part.matches if fact not in self.job.facts}))
        verdict = self.verdict(part, told, conflicts, questions, list(rows.values()))
        return ItemOutcome(verdict, tuple(told), conflicts, questions, tuple(sorted(set(rows.values()))))

    def verdict(
        self,
        part: Part,
        told: list[Told],
        conflicts: frozenset[str],
        questions: tuple[str, ...],
        rows: list[Row],
    ) -> str:
        must = {one.status for one, need in zip(told, part.needs, strict=True) if not need.optional}
        coded = {row.status for row in rows}
        if conflicts or "missing" in must:
            return "no-go"
        if questions or "expected" in must or "unknown" in coded:
            return "unproven"
        if "to-do" in coded or {one.status for one in told} & {"after-coding", "supplied"}:
            return "go-with-changes"
        return "go"

    def conflicts(self, part: Part, told: list[Told], wishes: list[Wish], rows: list[Row]) -> set[str]:
        fit, facts = self.judge.fit, self.job.facts
        theirs = [wish for many in self.wishes for wish in many]
        found = {
            "id-in-use": self.takes_an_id(part),
            "two-sources": any(self.has_two_sources(part, role) for role in roles_of(part)),
            "fact-mismatch": any(
                fact in facts and not is_one_of(facts[fact], any_of) for fact, any_of in part.matches
            ),
            "module-absent": any(fit.unit(module) is None for module in part.requires),
            "coding-conflict": any(fit.clash(one, other) for one in wishes for other in theirs),
            "coding-undefined": any(row.status == "undefined" for row in rows),
            "lost-source": any(
                self.loses(part, need.role, one)
                for need, one in zip(part.needs, told, strict=True)
                if not need.optional
            ),
        }
        return {kind for kind, holds in found.items() if holds}

    def others(self, part: Part) -> list[Part]:
        return [other for other in self.job.parts if other is not part and other.network == part.network]

    def takes_an_id(self, part: Part) -> bool:
        for supply in part.supplies:
            if supply.number is None:
                continue
            sent = (supply.number, supply.extended)
            if any(sent == (s.number, s.extended) for other in self.others(part) for s in other.supplies):
                return True
            if self.judge.taps.seen(part.network, *sent):
                gone = [
                    msg
                    for msg in self.job.networks[part.network]
                    if (msg.number, msg.extended) == sent and self.is_gone(part.network, msg)
                ]
                if not gone:
                    return True
        return False

    def is_gone(self, network: str, msg: Msg) -> bool:
        """Whether the message is that of a replaced module or of a replaced role."""
        if self.is_silenced(msg):
            return True
        return any(
            look is not None and look.entry.message == msg.name
            for role in self.replaced_roles(network)
            if (look := self.judge.look(role, network))
        )

    def is_silenced(self, msg: Msg) -> bool:
        """Whether every module that sends it, by the DBC, is replaced."""
        return bool(msg.senders) and set(msg.senders) <= self.replaced_nodes()

    def replaced_nodes(self) -> set[str]:
        """Node names of what is taken out, whichever network they send on."""
        modules = [module for part in self.job.parts for module in part.replaced_modules]
        units = [unit for module in modules if (unit := self.judge.fit.unit(module))]
        return {unit.node for unit in units if unit.node}

    def replaced_roles(self, network: str | None) -> set[str]:
        return {
            role for part in self.job.parts if part.network in (None, network) for role in part.replaced_roles
        }

    def has_two_sources(self, part: Part, role: str) -> bool:
        if any(role in roles_of(other) for other in self.others(part)):
            return True
        look = self.judge.look(role, part.network)
        if look is None or not look.is_defined:
            return False
        if look.is_absent() or look.is_short() or look.is_not_available():
            return False
        replaced = role in self.replaced_roles(part.network) or self.is_silenced(look.msg)
        return not replaced

    def loses(self, part: Part, role: str, told: Told) -> bool:
        """Whether nothing will send what it needs: the role or its only sender is replaced."""
        look = self.judge.look(role, part.network)
        if told.reason == "by-item" or look is None:
            return False
        network = look.entry.network
        if role in self.replaced_roles(network):
            return True
        return look.msg is not None and self.is_silenced(look.msg)
