"""A plan as text for people: the verdict first, then why, then what to do."""

from __future__ import annotations

from netcheck.plan import Plan
from netcheck.report._page import Page
from netcheck.report._plan_coding import write_coding
from netcheck.report._plan_item import Detail, write_item
from netcheck.report._plan_resources import write_resources
from netcheck.report._plan_verdict import write_headline, write_verdict
from netcheck.report._plan_work import write_checklist, write_ground, write_next, write_pointer
from netcheck.verdict import Verdict
from netcheck.words import clause
from netcheck.work import Prove, Show

MOST_DETAILED = 3  # items whose evidence and coding bytes are in the text; with more, verbose has them
_WORST_FIRST = (Verdict.NO_GO, Verdict.UNPROVEN, Verdict.GO_WITH_CHANGES, Verdict.GO)


def verdict_text(plan: Plan, *, width: int = 80, colour: bool = False) -> str:
    """Only what ``plan_text`` begins with: the verdict in words, why, and what would change it."""
    page = Page(width)
    write_verdict(page, plan)
    return page.render(colour=colour)


def plan_text(
    plan: Plan,
    *,
    width: int = 80,
    colour: bool = False,
    verbose: bool = False,
    height: int | None = None,
) -> str:
    """The report of a plan.

    width: columns, no line is longer; less than 40 counts as 40
    colour: with ANSI escape sequences; without them the text is the same
    verbose: with all warnings, every message and rule looked at, and the whole checklist
    height: lines of a terminal; where the text is longer, the verdict stands at its end, too
    A job of more than three items has what stops or changes each, without what is shown and without bytes.
    Items come worst verdict first, otherwise as in the job.
    """
    page = Page(width)
    shown = (step.action for step in plan.checklist if isinstance(step.action, Show | Prove))
    short = len(plan.items) > MOST_DETAILED and not verbose
    detail = Detail(frozenset(clause(action.group.do) for action in shown), verbose, short)
    write_verdict(page, plan)
    for item in sorted(plan.items, key=lambda item: _WORST_FIRST.index(item.verdict)):
        write_item(page, item, detail)
    write_resources(page, plan, short=short)
    if not short:
        write_coding(page, plan)
    write_next(page, plan)
    write_pointer(page, plan)
    if verbose:
        write_checklist(page, plan)
    write_ground(page, plan, verbose=verbose, short=short)
    if height is not None and page.height >= height:
        page.blank()
        write_headline(page, plan)
    return page.render(colour=colour)
