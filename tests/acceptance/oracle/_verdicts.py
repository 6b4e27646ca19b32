"""The oracle's conflicts, questions and verdicts: what the judged needs come to."""

from __future__ import annotations

from dataclasses import dataclass

from tests.acceptance.oracle._fit import Row, Wish, wishes_of
from tests.acceptance.oracle._load import is_overloaded
from tests.acceptance.oracle._needs import Judge, Told, is_by_wire, is_one_of, roles_of
from tests.acceptance.small_jobs import Entry, Job, Msg, Need, Part

ORDER = ("go", "go-with-changes", "unproven", "no-go")


@dataclass(frozen=True)
class ItemOutcome:
    """``questions`` are kinds, and of kind ``fact`` with the fact: ``fact gearbox``."""

    verdict: str
    needs: tuple[Told, ...]
    conflicts: frozenset[str]
    questions: frozenset[str]
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


class Verdicts:
    def __init__(self, job: Job) -> None:
        self.job, self.judge = job, Judge(job)
        self.parts = self.judge.parts
        self.needs = [[self.judge.need(part, need) for need in part.needs] for part in self.parts]
        self.wishes = [self._wishes(part, told) for part, told in zip(self.parts, self.needs, strict=True)]
        self.replaced_roles = {
            role for part in self.parts for role in part.replaced_roles if self.judge.entries(role)
        }

    def _wishes(self, part: Part, told: list[Told]) -> list[Wish]:
        locked = [need for need, one in zip(part.needs, told, strict=True) if one.reason == "locked"]
        return wishes_of(part, [self.judge.look_of(part, need).entry.unlock for need in locked])

    def item(self, number: int) -> ItemOutcome:
        part, told, wishes = self.parts[number], self.needs[number], self.wishes[number]
        rows = {(wish.module, wish.field, str(wish.value)): self.judge.fit.row(wish) for wish in wishes}
        conflicts = frozenset(self.conflicts(part, told, wishes, list(rows.values())))
        questions = frozenset(self.questions(part, told))
        verdict = self.verdict(part, told, conflicts, questions, list(rows.values()))
        return ItemOutcome(verdict, tuple(told), conflicts, questions, tuple(sorted(set(rows.values()))))

    def verdict(
        self,
        part: Part,
        told: list[Told],
        conflicts: frozenset[str],
        questions: frozenset[str],
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
        fit, facts = self.judge.fit, self.judge.facts
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
            "lost-source": any(not self.givers(part, need.role) for need in self.bereft(part, told)),
            "overload": is_overloaded(self.job, self.judge.networks, part, self.is_gone),
        }
        return {kind for kind, holds in found.items() if holds}

    def questions(self, part: Part, told: list[Told]) -> set[str]:
        original = next(other for other in self.job.parts if other.name == part.name)
        conditions = [*part.matches, *part.steps]
        conditions += [e.only_if for e in (*original.needs, *original.codes) if e.only_if is not None]
        found = {f"fact {fact}" for fact, _ in conditions if fact not in self.judge.facts}
        if any(need.used_by and self.judge.fit.unit(need.used_by) is None for need in part.needs):
            found.add("used-by")
        if any(self.givers(part, need.role) for need in self.bereft(part, told)):
            found.add("gateway")
        if any(
            self.lacks_id(giver, taker) for one in self.parts for giver, taker in ((part, one), (one, part))
        ):
            found.add("supply-id")
        return found

    # Who else sends what.

    def others(self, part: Part) -> list[Part]:
        return [other for other in self.parts if other is not part]

    def neighbours(self, part: Part) -> list[Part]:
        return [other for other in self.others(part) if other.network == part.network]

    def givers(self, part: Part, role: str) -> list[Part]:
        return [other for other in self.others(part) if role in roles_of(other)]

    def lacks_id(self, giver: Part, taker: Part) -> bool:
        """Whether one supplies, without saying with which id, what another needs."""
        nameless = {role for supply in giver.supplies if supply.number is None for role in supply.roles}
        named = {role for supply in giver.supplies if supply.number is not None for role in supply.roles}
        wanted = {need.role for need in taker.needs if not is_by_wire(taker, need)}
        return giver is not taker and bool((nameless - named) & wanted)

    # What goes away.

    def replaced_nodes(self) -> set[str]:
        """Node names of what is taken out, whichever network they send on."""
        modules = [module for part in self.parts for module in part.replaced_modules]
        units = [unit for module in modules if (unit := self.judge.fit.unit(module))]
        return {unit.node for unit in units if unit.node}

    def is_silenced(self, msg: Msg | None) -> bool:
        """Whether every module that sends it, by the DBC, is replaced."""
        return msg is not None and bool(msg.senders) and set(msg.senders) <= self.replaced_nodes()

    def is_gone(self, network: str, msg: Msg) -> bool:
        """Whether the message is that of a replaced module or of a replaced role."""
        entries = (entry for role in self.replaced_roles for entry in self.judge.entries(role))
        return self.is_silenced(msg) or (network, msg.name) in {(e.network, e.message) for e in entries}

    def bereft(self, part: Part, told: list[Told]) -> list[Need]:
        """The needs, not optional, whose source goes away and which no item supplies on their network."""
        return [
            need
            for need, one in zip(part.needs, told, strict=True)
            if not need.optional and one.status != "supplied" and self.goes_away(part, need)
        ]

    def goes_away(self, part: Part, need: Need) -> bool:
        if need.role in self.replaced_roles:
            return True
        look = self.judge.look_of(part, need)
        entries = [look.entry] if look else self.judge.entries(need.role)
        return bool(entries) and all(self.is_silenced(self.message(entry)) for entry in entries)

    def message(self, entry: Entry) -> Msg | None:
        return next((msg for msg in self.job.networks[entry.network] if msg.name == entry.message), None)

    # Conflicts on a network.

    def takes_an_id(self, part: Part) -> bool:
        for supply in part.supplies:
            if supply.number is None:
                continue
            sent = (supply.number, supply.extended)
            if any(sent == (s.number, s.extended) for other in self.neighbours(part) for s in other.supplies):
                return True
            if self.judge.networks.seen(part.network, *sent):
                gone = [
                    msg
                    for msg in self.job.networks[part.network]
                    if (msg.number, msg.extended) == sent and self.is_gone(part.network, msg)
                ]
                if not gone:
                    return True
        return False

    def has_two_sources(self, part: Part, role: str) -> bool:
        if any(role in roles_of(other) for other in self.neighbours(part)):
            return True
        look = self.judge.look(role, (part.network,))
        if look is None or not look.is_defined or not look.has_values():
            return False
        return role not in self.replaced_roles and not self.is_silenced(look.msg)
