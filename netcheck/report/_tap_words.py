"""All that is said of a pair's traffic and of the roles on it: one entry for each reason."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from netcheck.network import NetworkFit
from netcheck.records import dataclass
from netcheck.report._numbers import it_has
from netcheck.report._remarks_network import fit_text, fit_words
from netcheck.report._survey_words import remark_words
from netcheck.tap import (
    Absence,
    Finding,
    FindingKind,
    FindingReason,
    FitFinding,
    LacksSignal,
    LiveValues,
    LockedBy,
    NetworkFinding,
    OnNetworks,
    RateFinding,
    RoleFacts,
    RoleFound,
    RoleReason,
    SignalValue,
    State,
    SuppliedBy,
    SurveyFinding,
    TapCaution,
)
from netcheck.words import bit_rate, counted, listing, milliseconds

_WAKE: Final = (
    "Switch the ignition on and open a door. Check that the clip makes contact and that high and low are not "
    "swapped."
)
_LONGER: Final = "Listen for a minute with the ignition on, and operate doors and lights."
_COMPARE: Final = "Compare model and model year with the vehicle file."


@dataclass(frozen=True)
class TapWords:
    """found: a clause without a full stop; cause, next: sentences, or ""."""

    found: str
    cause: str = ""
    next: str = ""


CAUTION_WORDS: Final[Mapping[TapCaution, str]] = {
    TapCaution.AIRBAGS: "Airbags and belt tensioners: never measure at their plugs or wires, not even "
    "resistance. "
    "The meter's current can fire them. Keep away from plugs you cannot identify.",
    TapCaution.BATTERY: "Battery: measure voltages with it connected. Measure resistance and continuity only "
    "with it "
    "disconnected and all modules asleep. Disconnect it in the order that the vehicle maker gives, and wait "
    "as long "
    "as the maker says.",
    TapCaution.PROBES: "Probe from the back of the plug with thin probes. Do not pierce insulation, do not "
    "widen a "
    "contact, and do not bridge two pins.",
    TapCaution.LISTEN_ONLY: "Only listen: no part and no tester may send meanwhile. Nobody drives meanwhile.",
    TapCaution.LOCAL_RULES: "Local rules come first. Leave work that needs a licence to those who hold one.",
}

STATE_WORDS: Final[Mapping[State, str]] = {
    State.RIGHT: "right",
    State.WRONG: "wrong",
    State.UNKNOWN: "cannot tell",
    State.NOTE: "note",
}

KIND_WORDS: Final[Mapping[FindingKind, str]] = {
    FindingKind.NETWORK: "network",
    FindingKind.FIT: "DBC",
    FindingKind.BIT_RATE: "bit rate",
    FindingKind.ERRORS: "error frames",
    FindingKind.ONLY_ERRORS: "error frames",
    FindingKind.FRAMES_LOST: "recorder",
    FindingKind.FRAMES_MISSING: "recorder",
    FindingKind.RECORDER_STALLED: "recorder",
    FindingKind.BUS_STOPPED: "traffic",
    FindingKind.TWO_NETWORKS: "network",
    FindingKind.NEARLY_SILENT: "traffic",
    FindingKind.OVERLOAD: "load",
    FindingKind.SILENCE: "traffic",
}


def finding_words(finding: Finding) -> TapWords:
    """The words of one finding."""
    return FINDING_WORDS[finding.reason](finding)


def role_words(role: RoleFound) -> TapWords:
    """The words of one role."""
    return ROLE_WORDS[role.reason](role, role.facts)


# ---------------------------------------------------------------------------- the network


def _counts(finding: NetworkFinding) -> str:
    """``61 of 64 ids match the DBC of comfort, 2 that of drive``."""
    if not finding.fits:
        return f"none of its {counted(finding.ids, 'id')} matches a DBC of this vehicle"
    first, *rest = finding.fits
    return _match(first) + "".join(f", {fit.explained} that of {fit.network}" for fit in rest)


def _match(fit: NetworkFit) -> str:
    return f"{fit.explained} of {counted(fit.ids, 'id')} match the DBC of {fit.network}"


def _go_to(finding: NetworkFinding) -> str:
    place = f" ({finding.place})" if finding.place else ""
    return f"Go to the pair of {finding.wanted}{place}."


def _silent(finding: NetworkFinding) -> TapWords:
    cause = "The network is asleep, the clip makes no contact, or this pair carries no traffic."
    if finding.wanted:
        cause += f" It may be another pair than that of {finding.wanted}."
    return TapWords("not one frame was received", cause, f"{_WAKE} If it stays silent, try the next pair.")


def _not_listened(finding: NetworkFinding) -> TapWords:
    return TapWords(
        f"no recording yet: whether this is {finding.wanted or 'the network'} is open",
        next="Clip on. Then give a recording with --capture, or listen now with --interface and --channel.",
    )


def _right_network(finding: NetworkFinding) -> TapWords:
    step = "" if finding.wanted else "Write it into the job file's item."
    return TapWords(f"this is {finding.seen}: {_counts(finding)}", next=step)


def _dbc_fits(finding: FitFinding) -> TapWords:
    return TapWords(fit_text(finding.fit))


def _other_edition(finding: FitFinding) -> TapWords:
    words = fit_words(finding.fit)
    return TapWords(f"{words.found}; {fit_text(finding.fit)}", words.cause, words.next)


def _other_network(finding: NetworkFinding) -> TapWords:
    return TapWords(
        f"this is {finding.seen}, not {finding.wanted}: {_counts(finding)}",
        "The clip is on the pair of another network.",
        _go_to(finding),
    )


def _shared_ids(finding: NetworkFinding) -> TapWords:
    step = "Compare pins and wire colours with the vehicle's wiring diagram."
    return TapWords(
        f"it may be {finding.wanted}: {_counts(finding)}",
        "Several networks share ids, because a gateway passes messages on.",
        f"{_LONGER} {step}" if finding.is_short else step,
    )


def _no_id_matches(finding: NetworkFinding) -> TapWords:
    return TapWords(
        f"this is not {finding.wanted} as its DBC describes it: {_counts(finding)}",
        "The clip is on another pair, or the DBC is of another model or model year.",
        f"{_go_to(finding)} {_COMPARE}",
    )


def _not_clear(finding: NetworkFinding) -> TapWords:
    cause = "The DBC is of another model or model year, or this is another pair."
    if finding.is_short:
        cause = f"Too few ids came so far. Or: {cause}"
    return TapWords(
        f"which network this is cannot be told: {_counts(finding)}",
        cause,
        _LONGER if finding.is_short else f"{_COMPARE} Try another pair.",
    )


# ---------------------------------------------------------------------------- what the survey points out


def _as_survey(finding: SurveyFinding) -> TapWords:
    words = remark_words(finding.remark)
    return TapWords(words.found, words.cause, words.next)


def _only_errors(finding: SurveyFinding) -> TapWords:
    words = remark_words(finding.remark)
    rate = f" {finding.network} has {bit_rate(finding.bitrate)}." if finding.bitrate is not None else ""
    return TapWords(
        words.found, f"{words.cause} The network cannot be identified like this.", words.next + rate
    )


def _few_error_frames(finding: SurveyFinding) -> TapWords:
    found = remark_words(finding.remark).found
    return TapWords(found, "A few are normal when a clip is put on.")


def _many_error_frames(finding: SurveyFinding) -> TapWords:
    words = remark_words(finding.remark)
    return TapWords(
        words.found,
        "A loose clip, a missing or a third terminator, a long stub, or a leak to ground or supply.",
        words.next,
    )


def _no_error_frames(_: Finding) -> TapWords:
    return TapWords("no error frame in the recording (not every recorder writes them)")


# ---------------------------------------------------------------------------- the bit rate


def _no_frame(_: Finding) -> TapWords:
    return TapWords("no frame shows it")


def _through_software(_: Finding) -> TapWords:
    return TapWords("not known: the frames came through software")


def _rate_differs(finding: RateFinding) -> TapWords:
    stated, known = bit_rate(finding.stated or 0), bit_rate(finding.known or 0)
    return TapWords(
        f"frames were received at {stated}, but the vehicle file says {known} for {finding.network}",
        "The vehicle file is wrong, or this is another network.",
        "Compare with the vehicle's wiring diagram.",
    )


def _rate_unknown(_: RateFinding) -> TapWords:
    return TapWords("frames were received, so the recorder was set right; a log does not say to which rate")


def _rate_of_file(finding: RateFinding) -> TapWords:
    return TapWords(
        f"{bit_rate(finding.known or 0)} in the vehicle file; frames were received, so the recorder was set "
        "right "
        "(a log does not say to which rate)"
    )


def _rate_confirmed(finding: RateFinding) -> TapWords:
    return TapWords(f"{bit_rate(finding.known or 0)}: frames were received at this rate")


FINDING_WORDS: Final[Mapping[FindingReason, Callable[[Any], TapWords]]] = {
    FindingReason.SILENT: _silent,
    FindingReason.NOT_LISTENED: _not_listened,
    FindingReason.RIGHT_NETWORK: _right_network,
    FindingReason.OTHER_NETWORK: _other_network,
    FindingReason.SHARED_IDS: _shared_ids,
    FindingReason.NO_ID_MATCHES: _no_id_matches,
    FindingReason.NOT_CLEAR: _not_clear,
    FindingReason.DOUBTFUL: _as_survey,
    FindingReason.DIAGNOSTICS_ONLY: _as_survey,
    FindingReason.DBC_FITS: _dbc_fits,
    FindingReason.OTHER_EDITION: _other_edition,
    FindingReason.TWO_NETWORKS: _as_survey,
    FindingReason.ONLY_ERRORS: _only_errors,
    FindingReason.NO_FRAME: _no_frame,
    FindingReason.THROUGH_SOFTWARE: _through_software,
    FindingReason.RATE_IMPOSSIBLE: _as_survey,
    FindingReason.RATE_DIFFERS: _rate_differs,
    FindingReason.RATE_UNKNOWN: _rate_unknown,
    FindingReason.RATE_OF_FILE: _rate_of_file,
    FindingReason.RATE_CONFIRMED: _rate_confirmed,
    FindingReason.NO_ERROR_FRAMES: _no_error_frames,
    FindingReason.FEW_ERROR_FRAMES: _few_error_frames,
    FindingReason.MANY_ERROR_FRAMES: _many_error_frames,
    FindingReason.FRAMES_LOST: _as_survey,
    FindingReason.FRAMES_MISSING: _as_survey,
    FindingReason.RECORDER_STALLED: _as_survey,
    FindingReason.BUS_STOPPED: _as_survey,
    FindingReason.NEARLY_SILENT: _as_survey,
    FindingReason.OVERLOAD: _as_survey,
}


# ---------------------------------------------------------------------------- roles


def _supplied(_: RoleFound, facts: SuppliedBy) -> TapWords:
    return TapWords(f"comes from {listing(facts.items)}, once that is fitted")


def _undefined_role(_: RoleFound, __: RoleFacts) -> TapWords:
    return TapWords(
        "the vehicle file does not map it for this model year", next="Add the role to the vehicle file."
    )


def _elsewhere(_: RoleFound, facts: OnNetworks) -> TapWords:
    return TapWords(
        f"is on {listing(facts.networks, last='or')}, not here",
        next="Wire the part to that network, or bring the signal here.",
    )


def _undefined_signal(_: RoleFound, facts: LacksSignal) -> TapWords:
    lacks = facts.lacks
    where = f" in {lacks.message}" if lacks.message else ""
    return TapWords(
        f"the DBC of {facts.network} has no {lacks.what} {lacks.name}{where}{it_has(lacks.similar)}",
        next="Correct the vehicle file, or use the DBC that fits this vehicle.",
    )


def _defined(role: RoleFound, _: RoleFacts) -> TapWords:
    return TapWords(f"{role.message} is in the DBC and did not come; the part asks for no more")


def _locked(role: RoleFound, facts: LockedBy) -> TapWords:
    return TapWords(
        f"{role.message} did not come; it may need coding first ({facts.module}.{facts.field} = "
        f"{facts.value})",
        next="Read the coding out, and run netcheck plan.",
    )


def _absent(role: RoleFound, facts: Absence) -> TapWords:
    return TapWords(
        f"{role.message} did not come"
        + (f" in {facts.seconds:.0f} s awake" if facts.seconds else "")
        + ("; it may be sent only when used" if facts.may_be_unused else ""),
        next="Switch the ignition on, operate the function, and listen for a minute.",
    )


def _short_frame(role: RoleFound, _: RoleFacts) -> TapWords:
    return TapWords(
        f"{role.message} is too short to hold it",
        "The DBC is of another model year.",
        "Use the DBC that fits this vehicle.",
    )


def _not_available(role: RoleFound, _: RoleFacts) -> TapWords:
    return TapWords(
        f"{role.message} comes, but with 'no value' only so far",
        next="Switch the ignition on, operate the function, and listen again.",
    )


def _seen(role: RoleFound, facts: LiveValues) -> TapWords:
    often = f" every {milliseconds(facts.period_ns)}" if facts.period_ns is not None else ""
    every = f"{role.message}{often}"
    if facts.low is None or facts.high is None:
        return TapWords(f"{every}, all values outside the DBC's limits")
    low, high = _value(facts.low), _value(facts.high)
    return TapWords(f"{every}, " + (f"reads {low}" if low == high else f"from {low} to {high}"))


def _value(value: SignalValue) -> str:
    """``P (0)``, ``12.5 km/h``."""
    if value.label:
        return f"{value.label} ({value.raw})"
    return f"{value.value:.6g} {value.unit}".rstrip() if value.value is not None else "?"


ROLE_WORDS: Final[Mapping[RoleReason, Callable[[RoleFound, Any], TapWords]]] = {
    RoleReason.SUPPLIED: _supplied,
    RoleReason.UNDEFINED_ROLE: _undefined_role,
    RoleReason.OTHER_NETWORK: _elsewhere,
    RoleReason.UNDEFINED_SIGNAL: _undefined_signal,
    RoleReason.DEFINED: _defined,
    RoleReason.LOCKED: _locked,
    RoleReason.MESSAGE_ABSENT: _absent,
    RoleReason.SHORT_FRAME: _short_frame,
    RoleReason.NOT_AVAILABLE: _not_available,
    RoleReason.SEEN: _seen,
}
