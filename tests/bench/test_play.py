"""Deadlines, lateness and every way to stop, on a clock that only moves when it is told to."""

from __future__ import annotations

import queue
from collections.abc import Iterator

import can
import pytest

from netcheck.bench import BusStopped, Lateness, SendStop, StopReason, Target, play
from netcheck.bench._bus import SendingBus, open_target
from netcheck.errors import InputError, UsageError

MS = 1_000_000


class HandClock:
    """Sleeping takes what was asked and ``over``; sending takes what the test says."""

    def __init__(self, over: int = 0) -> None:
        self.now, self.over, self.slept = 5_000 * MS, over, 0

    def now_ns(self) -> int:
        return self.now

    def sleep(self, seconds: float) -> None:
        self.now += round(seconds * 1e9) + self.over
        self.slept += 1


def test_each_frame_has_a_deadline_of_its_own_so_nothing_adds_up() -> None:
    clock = HandClock(over=MS // 10)
    at: list[int] = []

    def send(_: int) -> None:
        at.append(clock.now - 5_000 * MS)
        clock.now += 3 * MS  # slower than the 2 ms between the first frames

    played = play([(2 * MS * n if n < 5 else 40 * MS + n, n) for n in range(7)], send, clock=clock)
    assert [round(time / MS, 1) for time in at] == [0.0, 3.0, 6.0, 9.0, 12.0, 40.1, 43.1]
    assert (played.sent, played.stop) == (7, None)
    assert played.seconds == pytest.approx(0.0461)
    assert played.lateness.max_us == pytest.approx(7000, abs=1)  # handed over, sending included


@pytest.mark.parametrize(("speed", "seconds"), [(1.0, 2.0), (4.0, 0.5), (0.5, 4.0), (0, 0.0)])
def test_speed(speed: float, seconds: float) -> None:
    clock = HandClock()
    played = play([(0, "a"), (2_000 * MS, "b")], lambda _: None, speed=speed, clock=clock)
    assert played.seconds == pytest.approx(seconds)
    assert played.sent == 2


def test_the_time_before_the_first_frame_is_no_delay() -> None:
    clock = HandClock()

    def frames() -> Iterator[tuple[int, str]]:
        clock.now += 700 * MS
        yield 0, "a"

    assert play(frames(), lambda _: None, clock=clock).lateness.max_us == 0


def test_the_bus_is_looked_at_while_waiting_and_can_end_it_at_once() -> None:
    clock = HandClock()
    looks: list[int] = []
    off = SendStop(StopReason.BUS_OFF, "vcan0")

    def look() -> None:
        looks.append(clock.now // MS - 5_000)
        if len(looks) == 3:
            raise BusStopped(off)

    played = play([(0, "a"), (10_000 * MS, "b")], lambda _: None, look, clock=clock)
    assert looks == [50, 100, 150]
    assert (played.sent, played.stop, played.is_interrupted) == (1, off, False)


def test_a_person_ends_it_wherever_it_is() -> None:
    class Interrupted(HandClock):
        def sleep(self, seconds: float) -> None:
            raise KeyboardInterrupt

    def broken() -> Iterator[tuple[int, str]]:
        yield 0, "a"
        raise KeyboardInterrupt

    for frames, clock in (([(0, "a"), (MS, "b")], Interrupted()), (broken(), HandClock())):
        played = play(frames, lambda _: None, clock=clock)
        assert (played.sent, played.stop, played.is_interrupted) == (
            1,
            SendStop(StopReason.INTERRUPTED),
            True,
        )


def test_percentiles_are_nearest_rank_to_ten_microseconds() -> None:
    late = Lateness()
    assert (late.percentile_us(50), late.max_us) == (0.0, 0.0)
    for micros in range(100):
        late.add(1000 * 100 * micros)  # 0, 0.1 … 9.9 ms
    assert late.percentile_us(50) == pytest.approx(4900, abs=10)
    assert late.percentile_us(99) == pytest.approx(9800, abs=10)
    late.add(5_000 * MS)
    assert late.max_us == 5_000_000
    assert late.percentile_us(100) >= 999_990


class FakeBus:
    """A bus that does what the test says."""

    def __init__(self, *received: can.Message | Exception, state: can.BusState = can.BusState.ACTIVE) -> None:
        self.received, self.state, self.error = list(received), state, None

    def send(self, message: can.Message, timeout: float | None) -> None:
        if self.error is not None:
            raise self.error

    def recv(self, timeout: float) -> can.Message | None:
        item = self.received.pop(0) if self.received else None
        if isinstance(item, Exception):
            raise item
        return item


def bus(*received: can.Message | Exception, **more: can.BusState) -> tuple[SendingBus, FakeBus]:
    fake = FakeBus(*received, **more)
    return SendingBus(Target("socketcan", "vcan0"), fake), fake  # type: ignore[arg-type]


BUS_OFF = can.Message(arbitration_id=0x40, is_error_frame=True, is_extended_id=True, data=bytes(8))
WARNING = can.Message(arbitration_id=0x04, is_error_frame=True, is_extended_id=True, data=bytes(8))


def test_bus_off_is_seen_in_an_error_frame_and_in_the_state() -> None:
    bus(WARNING)[0].look()
    for stopped in (bus(WARNING, BUS_OFF)[0], bus(state=can.BusState.ERROR)[0]):
        with pytest.raises(BusStopped) as off:
            stopped.look()
        assert off.value.stop == SendStop(StopReason.BUS_OFF, "socketcan vcan0")
    with pytest.raises(BusStopped) as gone:
        bus(can.CanOperationError("cable pulled"))[0].look()
    assert gone.value.stop == SendStop(StopReason.INTERFACE_LOST, "socketcan vcan0", said="cable pulled")


@pytest.mark.parametrize(
    "error",
    [can.CanOperationError("Transmit buffer full"), queue.Full(), OSError("No buffer space available")],
)
def test_a_full_queue_stops_it(error: Exception) -> None:
    sending, fake = bus()
    fake.error = error
    with pytest.raises(BusStopped) as refused:
        sending.send(can.Message())
    assert refused.value.stop == SendStop(StopReason.REFUSED, "socketcan vcan0", said=str(error) or "Full")


def test_foreign_traffic_of_the_same_ids_is_refused_and_other_is_not() -> None:
    heard = [can.Message(arbitration_id=0x123, is_extended_id=wide) for wide in (False, True)]
    ours = frozenset({(0x123, False), (0x200, False)})
    with pytest.raises(UsageError, match="socketcan vcan0: another node sends 0x123 on this bus"):
        bus(heard[0], WARNING)[0].check_free(ours, 0.01)
    bus(heard[1], can.Message(arbitration_id=0x201, is_extended_id=False))[0].check_free(ours, 0.01)
    with pytest.raises(InputError, match="cannot be read: cable pulled"):
        bus(can.CanOperationError("cable pulled"))[0].check_free(ours, 0.01)


def test_a_sender_that_joins_later_ends_it() -> None:
    """One that is slower than the listening, or is switched on meanwhile."""
    ours = frozenset({(0x123, False)})

    def joined(interface: str, options: tuple[tuple[str, str], ...] = (), **more: bool) -> SendingBus:
        message = can.Message(arbitration_id=0x123, **{"is_extended_id": False, **more})
        playing = SendingBus(Target(interface, "one", options=options), FakeBus(message))  # type: ignore[arg-type]
        playing.check_free(ours, 0)
        return playing

    for foreign in (joined("kvaser"), joined("socketcan"), joined("socketcan", is_rx=False)):
        with pytest.raises(BusStopped) as heard:
            foreign.look()
        assert heard.value.stop == SendStop(
            StopReason.FOREIGN_SENDER, f"{foreign.target.interface} one", ids=((0x123, False),)
        )
    joined("udp_multicast").look()  # gives back what we sent
    joined("kvaser", options=(("receive_own_messages", "true"),)).look()
    joined("kvaser", is_extended_id=True).look()
    joined("kvaser", is_error_frame=True).look()


def test_what_cannot_be_opened() -> None:
    with pytest.raises(
        UsageError, match="--interface: python-can has no interface 'virtul' – did you mean 'virtual'"
    ):
        open_target(Target("virtul", "x"))
    with pytest.raises(
        InputError, match=r"^socketcan no-such-device: cannot be opened: .* – is it plugged in"
    ):
        open_target(Target("socketcan", "no-such-device"))
    with pytest.raises(
        UsageError,
        match="CAN FD frames are to be sent, but their bit rate is not known – give --fd-bitrate too",
    ):
        open_target(Target("pcan", "x", 500_000, sends_fd=True))
    with pytest.raises(InputError, match="check --channel, --bitrate and --option"):
        open_target(Target("virtual", "x", options=(("interface", "pcan"),)))
