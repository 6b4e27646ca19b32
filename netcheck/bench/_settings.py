"""The sets of a script: points of the signals that play a role, and the marks that say so."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain

from netcheck.bench._encode import physical, raw_range
from netcheck.bench._scenario import Scenario
from netcheck.bench._states import inactive_raw, key_of, state_values
from netcheck.files import Mark, Problem, Script, Setting, one_of
from netcheck.roles import Watch

Playing = Mapping[str, tuple[Watch, ...]]  # the signals that play each role


def apply_settings(script: Script, playing: Playing, scenarios: Mapping[str, Scenario]) -> None:
    """Put the script's sets into the scenarios of the networks.

    Raises Problem for an unknown role or state, a value that does not fit, times out of order, and a ramp
    without a start.
    """
    earlier: dict[str, int] = {}
    for index, setting in enumerate(script.set):
        at = ("set", index)
        _check_times(script, index, earlier.get(setting.role))
        for played, raw in _goals(setting, _of_role(setting, playing, at), at):
            value = physical(played.signal, raw) if setting.value is None else setting.value
            scenarios[played.network].put(key_of(played), setting.at, value, setting.ramp)
        earlier[setting.role] = index


def marks_of(script: Script, playing: Playing) -> tuple[Mark, ...]:
    """A mark for every set, until the role is set anew; none for inactive. Seconds from the script's start.

    The mark of a value begins when the ramp ends, and allows a step of the coarsest signal to either side.
    """
    marks = []
    for index, setting in enumerate(script.set):
        later = (other.at for other in script.set[index + 1 :] if other.role == setting.role)
        begin, end = setting.at + setting.ramp, next(later, script.seconds)
        if begin < end and setting.state != "inactive":
            marks.append(_mark(setting, playing[setting.role], begin, end))
    return tuple(marks)


def _mark(setting: Setting, playing: tuple[Watch, ...], begin: float, end: float) -> Mark:
    if setting.state is not None:
        state, several = setting.state, [state_values(played, setting.state) for played in playing]
        is_active = any(set(raw) & set(played.active) for played, raw in zip(playing, several, strict=True))
        if is_active and not all(several):  # the networks have different labels for it
            state = "active"
        return Mark(role=setting.role, state=state, from_=begin, to=end)
    value = setting.value or 0.0
    step = max((abs(played.signal.scale) for played in playing), default=0.0)
    between = (round(value - step, 9), round(value + step, 9))
    return Mark(role=setting.role, between=between, from_=begin, to=end)


def _check_times(script: Script, index: int, earlier: int | None) -> None:
    setting = script.set[index]
    if setting.at >= script.seconds:
        raise Problem(
            ("set", index, "at"), f"{setting.at:g} s is not before the end", f"less than {script.seconds:g}"
        )
    if earlier is not None and setting.at <= script.set[earlier].at:
        raise Problem(
            ("set", index, "at"),
            f"{setting.at:g} s is not after the {script.set[earlier].at:g} s of set[{earlier}], "
            f"which is of {setting.role} too",
            "write the sets of a role in the order of time",
        )
    if not setting.ramp:
        return
    if setting.value is None:
        raise Problem(
            ("set", index, "ramp"), "only a value can be reached in a ramp", "give value, or no ramp"
        )
    if earlier is None:
        raise Problem(
            ("set", index, "ramp"),
            f"a ramp without a start: {setting.role} is not set before",
            "set its start value, at 0",
        )


def _of_role(setting: Setting, playing: Playing, at: tuple[str | int, ...]) -> tuple[Watch, ...]:
    if setting.role not in playing:
        remedy = one_of(setting.role, playing)
        raise Problem((*at, "role"), f"'{setting.role}' is not a role of the vehicle", remedy)
    if not playing[setting.role]:
        with_signals = [role for role, several in playing.items() if several]
        raise Problem(
            (*at, "role"),
            f"no signal carries {setting.role} in this model year",
            one_of(setting.role, with_signals),
        )
    return playing[setting.role]


def _goals(
    setting: Setting, playing: Sequence[Watch], at: tuple[str | int, ...]
) -> Iterator[tuple[Watch, float]]:
    """Each signal with the raw value that it goes to."""
    state = setting.state
    if state is None:
        for played in playing:
            yield played, _raw_of_value(setting, played, at)
        return
    if state in ("active", "inactive") and not any(played.active for played in playing):
        raise Problem((*at, "state"), f"{setting.role} has no active state", "give a label or a value")
    wanted = "active" if state == "inactive" else state
    known = [(played, state_values(played, wanted)) for played in playing]
    if not any(several for _, several in known):
        labels = chain.from_iterable(played.signal.labels.values() for played in playing)
        raise Problem(
            (*at, "state"),
            f"'{state}' is not a state of {setting.role}",
            one_of(str(state), dict.fromkeys(("active", "inactive", *labels))),
        )
    # A state that only some networks have means active or not to the others.
    means_active = state != "inactive" and any(
        raw in played.active for played, several in known for raw in several[:1]
    )
    for played, several in known:
        if several and state != "inactive":
            yield played, several[0]
        elif played.active:
            yield played, played.active[0] if means_active else inactive_raw(played)


def _raw_of_value(setting: Setting, played: Watch, at: tuple[str | int, ...]) -> float:
    signal, value = played.signal, setting.value or 0.0
    raw = (value - signal.offset) / signal.scale
    if signal.is_float:
        return raw
    low, high = raw_range(signal)
    if not low <= round(raw) <= high:
        ends = sorted((physical(signal, low), physical(signal, high)))
        unit = f" {signal.unit}" if signal.unit else ""
        raise Problem(
            (*at, "value"),
            f"{value:g} does not fit {played.message.name}.{signal.name} on {played.network}",
            f"it holds {ends[0]:g} to {ends[1]:g}{unit}",
        )
    return raw


def seen_from(marks: Iterable[Mark], first: float, last: float) -> list[Mark]:
    """Marks of a script as marks of the capture that came of it, in the order of time.

    first, last: when its first and its last frame came, in seconds from the script's start. A mark that lies
    behind the last frame is left out.
    """
    seen = []
    for mark in marks:
        begin, end = max(round(mark.from_ - first, 6), 0.0), round(mark.to - first, 6)
        if begin < end and mark.from_ < last:
            seen.append(mark.model_copy(update={"from_": begin, "to": end}))
    return sorted(seen, key=lambda mark: (mark.from_, mark.role))
