"""Drafts by hand: what a search adds, what stands already, and what stands against it."""

from __future__ import annotations

from types import SimpleNamespace

from netcheck.database import Database, Message, Signal
from netcheck.find import DraftKind, FindMark, draft_change, find_states, movements_of
from tests.captures import Frame, hand_made
from tests.find.test_states import PRESSES, bit, moves, pressed

OTHER = ((8.0, 9.0), (15.5, 17.5), (22.0, 24.5))


def source(message: str, signal: str, *active: int) -> SimpleNamespace:
    return SimpleNamespace(network="x", message=message, signal=signal, active=active)


def change(signals, roles, database=None, entries=None):
    movements = moves(*signals)
    marks = [FindMark(role, "active", *span) for role, spans in roles.items() for span in spans]
    searches = [find_states(movements, marks, role) for role in roles]
    return draft_change(searches, movements, database, entries or {})


def layout(name: str, can_id: int, **bits: tuple[int, int]) -> Message:
    signals = tuple(
        Signal(each, start, width, False, False, False, 1.0, 0.0, None, None)
        for each, (start, width) in bits.items()
    )
    return Message(name, can_id, False, False, False, 8, (), None, signals)


def test_a_bit_becomes_a_signal_with_its_role():
    found = change([(0x123, 0.05, bit(21, pressed))], {"reverse-engaged": PRESSES})
    (signal,) = found.signals
    assert (signal.can_id, signal.message, signal.length) == (0x123, "Message123", 4)
    assert (signal.name, signal.start, signal.width) == ("ReverseEngaged", 21, 1)
    assert signal.labels == {1: "active", 0: "inactive"}
    (role,) = found.roles
    assert (role.kind, role.place, role.active) == (DraftKind.ADDED, ("Message123", "ReverseEngaged"), (1,))


def test_what_is_active_low_is_written_so():
    found = change([(0x123, 0.05, bit(3, lambda t: not pressed(t)))], {"door.driver-open": PRESSES})
    assert found.roles[0].active == (0,)
    assert found.signals[0].labels == {0: "active", 1: "inactive"}


def test_roles_that_share_a_field_are_one_signal_with_their_codes():
    third = ((3.0, 4.2), (26.0, 28.0), (29.0, 29.6))
    code = lambda t: bytes([pressed(t) + 2 * pressed(t, OTHER) + 3 * pressed(t, third)])  # noqa: E731
    roles = {"wheel.volume-up": PRESSES, "wheel.volume-down": OTHER, "wheel.volume-mute": third}
    found = change([(0x123, 0.02, code)], roles)
    (signal,) = found.signals
    assert (signal.name, signal.start, signal.width, signal.labels) == ("WheelVolumeCode", 0, 2, {})
    assert [(each.place, each.active) for each in found.roles] == [
        (("Message123", "WheelVolumeCode"), (value,)) for value in (1, 2, 3)
    ]


def test_the_same_again_is_there_already():
    database = Database(("d.dbc",), (layout("Message123", 0x123, ReverseEngaged=(21, 1)),))
    entries = {"reverse-engaged": [source("Message123", "ReverseEngaged", 1)]}
    found = change([(0x123, 0.05, bit(21, pressed))], {"reverse-engaged": PRESSES}, database, entries)
    assert found.signals == ()
    assert found.roles[0].kind is DraftKind.THERE


def test_a_role_that_the_draft_has_elsewhere_stays_there():
    database = Database(("d.dbc",), (layout("M", 0x200, ReverseEngaged=(3, 1)),))
    entries = {"reverse-engaged": [source("M", "ReverseEngaged", 1)]}
    signals = [(0x123, 0.05, bit(21, pressed)), (0x200, 0.05, bit(0, lambda _: False))]
    found = change(signals, {"reverse-engaged": PRESSES}, database, entries)
    assert found.signals == ()
    assert (found.roles[0].kind, found.roles[0].place) == (DraftKind.ELSEWHERE, ("M", "ReverseEngaged"))


def test_bits_of_another_role_are_not_taken():
    database = Database(("d.dbc",), (layout("M", 0x123, DoorOpen=(21, 1)),))
    entries = {"door.driver-open": [source("M", "DoorOpen", 1)]}
    found = change([(0x123, 0.05, bit(21, pressed))], {"reverse-engaged": PRESSES}, database, entries)
    assert found.signals == ()
    assert (found.roles[0].kind, found.roles[0].other) == (DraftKind.BITS_TAKEN, "door.driver-open")


def test_two_roles_of_one_run_that_follow_the_same_bit_are_both_told():
    found = change([(0x123, 0.05, bit(21, pressed))], {"a": PRESSES, "b": PRESSES})
    assert found.signals == ()
    assert [(each.kind, each.other) for each in found.roles] == [
        (DraftKind.BITS_TAKEN, "b"),
        (DraftKind.BITS_TAKEN, "a"),
    ]


def test_a_signal_of_the_draft_is_used_again_by_its_name():
    """Someone named it, or it is another button's: the role gets its values there."""
    database = Database(("d.dbc",), (layout("Keys", 0x123, KeyCode=(16, 8)),))
    entries = {"wheel.next": [source("Keys", "KeyCode", 1)]}
    found = change([(0x123, 0.05, bit(21, pressed))], {"wheel.mute": PRESSES}, database, entries)
    assert found.signals == ()
    (role,) = found.roles
    assert (role.kind, role.place, role.active) == (DraftKind.ADDED, ("Keys", "KeyCode"), (32,))


def test_a_signal_with_other_borders_is_told():
    database = Database(("d.dbc",), (layout("Keys", 0x123, Narrow=(21, 1)),))
    both = lambda t: bytes([0, 0, (3 if pressed(t) else 1 if pressed(t, OTHER) else 2) << 5, 0])  # noqa: E731
    found = change([(0x123, 0.05, both)], {"a": PRESSES, "b": OTHER}, database)
    assert found.signals == ()
    assert [(each.kind, each.place) for each in found.roles] == [
        (DraftKind.BITS_TAKEN, ("Keys", "Narrow"))
    ] * 2


def test_what_does_not_stand_clear_is_not_written():
    twins = [(0x123, 0.05, bit(0, lambda t: 5 <= t < 7))]
    found = change(twins, {"reverse-engaged": ((5.0, 7.0),)})
    assert (found.signals, found.roles[0].kind) == ((), DraftKind.NOT_CLEAR)


def test_a_message_that_comes_only_while_active_has_no_bits():
    found = change([(0x123, 0.05, lambda t: b"\x01" if pressed(t) else None)], {"horn": PRESSES})
    assert found.signals == ()
    assert found.roles[0].kind is DraftKind.NO_SIGNAL


def test_a_copy_on_the_channel_of_the_draft_is_taken():
    """The draft's messages come on can1, where the state is coded in another way."""
    frames = []
    for step in range(600):
        time = step * 0.05
        on = pressed(time)
        for channel, can_id, data in ((0, 0x123, bytes([on])), (1, 0x456, bytes([7 - 4 * on]))):
            frames.append(Frame(can_id, data, time_ns=round(time * 1e9) + channel, channel=f"can{channel}"))
    movements = movements_of("x.log", ("can0", "can1"), [hand_made(frames)])
    marks = [FindMark("reverse-engaged", "active", *span) for span in PRESSES]
    database = Database(("d.dbc",), (layout("Gate", 0x456, Other=(20, 1)),))
    found = draft_change([find_states(movements, marks, "reverse-engaged")], movements, database, {})
    (signal,) = found.signals
    assert (signal.can_id, signal.message) == (0x456, "Gate")
    assert (signal.start, signal.width, found.roles[0].active) == (2, 1, (0,))


def test_what_is_on_another_channel_only_is_told():
    frames = [
        Frame(
            can_id,
            bytes([pressed(step * 0.05) * (can_id == 0x123)]),
            time_ns=step * 50_000_000,
            channel=f"can{n}",
        )
        for step in range(600)
        for n, can_id in enumerate((0x123, 0x456))
    ]
    movements = movements_of("x.log", ("can0", "can1"), [hand_made(frames)])
    marks = [FindMark("reverse-engaged", "active", *span) for span in PRESSES]
    database = Database(("d.dbc",), (layout("Gate", 0x456, Other=(20, 1)),))
    found = draft_change([find_states(movements, marks, "reverse-engaged")], movements, database, {})
    assert (found.signals, found.roles[0].kind) == ((), DraftKind.OTHER_NETWORK)
