"""A guided recording from the first frame to the last: frames and keys to the guide, its words out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING, Final

from netcheck.cli._keys import ENTER, ERASE, Keys
from netcheck.cli._screen import Screen
from netcheck.errors import InputError
from netcheck.evidence import Guide, Outcome, Phase
from netcheck.network import TrafficTally, identify
from netcheck.words import bit_rate

if TYPE_CHECKING:
    from netcheck.capture import Capture
    from netcheck.capture.live import LiveCapture
    from netcheck.database import Database
    from netcheck.files import MarksWriter
    from netcheck.work import Visit

_AHEAD: Final = 5.0  # s that a clock is found ahead of the steady one: it was set
_TURN: Final = 0.1  # s between two looks
_KNOWN_NS: Final = 3_000_000_000  # of traffic until the pair is judged
_TYPEABLE: Final = frozenset("0123456789.,-+ ")


class Stop(Enum):
    """Why the recording ended."""

    DONE = "done"
    QUIT = "quit"
    SILENCE = "silence"
    ONLY_ERRORS = "only-errors"
    WRONG_PAIR = "wrong-pair"
    FAULT = "fault"
    CLOCK = "clock"
    INTERRUPTED = "interrupted"


@dataclass(frozen=True)
class Limits:
    """Times in seconds. wait: for the first frame; record: without exercises."""

    wait: float
    record: float


class ClockWatch:
    """Whether the clock of the frames was set ahead, against one that nobody sets.

    set_ahead: by how many seconds; 0 if it was not. Frames that come late do not count.
    """

    def __init__(self) -> None:
        self.set_ahead = 0.0
        self._most: float | None = None

    def take(self, time_ns: int, clock: float) -> None:
        """The latest time stamp, and the time by the steady clock, in s."""
        ahead = time_ns / 1e9 - clock
        if self._most is not None and ahead > self._most + _AHEAD:
            self.set_ahead = ahead - self._most
        self._most = ahead if self._most is None else max(self._most, ahead)


class Session:
    """One recording.

    stop_text:     why it ended, where that is not what the user wanted
    other_network: which network the pair clearly is, where it is not the one that was meant
    """

    def __init__(
        self, live: LiveCapture, guide: Guide, visit: Visit, databases: Mapping[str, Database], limits: Limits
    ) -> None:
        self.live = self._live = live
        self.guide = guide
        self._visit = visit
        self._databases = databases
        self._limits = limits
        self._tally = TrafficTally()
        self._is_judged = False
        self._typed = ""
        self._clock = ClockWatch()
        self._begin_ns = self.last_ns = 0
        self._rate: list[tuple[int, int]] = []
        self.stop_text = ""
        self.unsaved = ""
        self.other_network: str | None = None

    @property
    def has_messages(self) -> bool:
        """Whether the log holds more than error frames."""
        return self._live.frames > self._live.error_frames

    @property
    def has_marks(self) -> bool:
        """Whether there is anything to keep a marks file for."""
        first = self._live.first_ns
        return first is not None and bool(self.guide.marks(first, self.last_ns))

    def run(self, keys: Keys, screen: Screen, clock: Callable[[], float], marks: MarksWriter) -> Stop:
        """Until the exercises are through, somebody stops it, or it cannot go on."""
        stop = self._first_frames(keys, screen, clock)
        if stop is not None:
            return stop
        self._begin_ns = self._live.now_ns()
        self.guide.begin(self._begin_ns)
        self._announce(screen, keys)
        saved = 0
        while True:
            self._take(clock())
            now = self._live.now_ns()
            stop = self._judge(screen) or self._ended(now)
            if stop is not None:
                return stop
            outcome = self.guide.step(now)
            key = keys.wait(_TURN)
            if key == "q" and self.guide.phase is not Phase.ASK:
                return Stop.QUIT
            pressed = self._press(key, now) if key else None
            for each in (outcome, pressed):
                if each is not None:
                    self._tell(each, screen)
            self._follow(screen, keys, now)
            if len(self.guide.outcomes) != saved:
                saved = len(self.guide.outcomes)
                self.save(marks)
            screen.show(self._lines(screen, now))

    def finish(self, marks: MarksWriter) -> None:
        """The recording has ended: take what was still on its way, close the exercises, save."""
        self._take(None)
        self.guide.stop(max(self.last_ns, self._begin_ns))
        if self.has_messages:
            self.save(marks)

    def save(self, marks: MarksWriter) -> None:
        """Write the marks that there are; a disk that refuses is remembered, not raised."""
        first = self._live.first_ns
        if first is None:
            return
        made = self.guide.marks(first, self.last_ns)
        try:
            marks.save([(each.mark, each.how) for each in made])
            self.unsaved = ""
        except InputError as error:
            self.unsaved = str(error)

    # the beginning

    def _first_frames(self, keys: Keys, screen: Screen, clock: Callable[[], float]) -> Stop | None:
        begin = clock()
        live = self._live
        while not live.frames - live.error_frames:
            waited = clock() - begin
            if live.has_ended:
                return self._fault()
            if waited >= self._limits.wait:
                return self._nothing()
            if keys.wait(_TURN) == "q":
                return Stop.QUIT
            errors = f"{live.error_frames} error frames and " if live.error_frames else ""
            hint = ". Is the ignition on?" if waited > 3 else ""
            screen.show([f"  {errors}no message yet, {self._limits.wait - waited:.0f} s to go{hint}"])
        screen.clear()
        return None

    def _nothing(self) -> Stop:
        bitrate = bit_rate(self._visit.bitrate)
        if self._live.error_frames:
            self.stop_text = (
                f"only error frames and no message in {self._limits.wait:g} s: most likely the bit rate is "
                f"wrong ({self._visit.network} has {bitrate} by the vehicle file), or high and low are "
                "swapped or shorted. Unclip at once, set the bit rate, check the pair, then record again"
            )
            return Stop.ONLY_ERRORS
        self.stop_text = (
            f"silence: nothing came in {self._limits.wait:g} s. Switch the ignition on, wake the vehicle "
            f"(open a door), check that the plug sits and that it is the pair of {self._visit.network}"
            + (f" ({self._visit.tap})" if self._visit.tap else "")
            + f" and the interface at {bitrate}; then record again"
        )
        return Stop.SILENCE

    def _announce(self, screen: Screen, keys: Keys) -> None:
        from netcheck.report.onsite import quiet_text

        left = self.guide.quiet_left_ns(self._begin_ns) / 1e9
        if left:
            screen.say(quiet_text(left, width=screen.width, colour=screen.colour))
        elif self.guide.phase is Phase.OVER:
            way = "[Enter] or [q] ends it" if keys.present else "it ends by itself"
            screen.say(
                f"Nothing to exercise on {self._visit.network}: recording {self._limits.record:g} s, {way}.\n"
            )

    # while it runs

    def _take(self, clock: float | None) -> None:
        chunk = self._live.take()
        if chunk is None:
            return
        self.guide.take(chunk)
        if clock is not None:
            self._clock.take(int(chunk.time_ns.max()), clock)
        self.last_ns = max(self.last_ns, int(chunk.time_ns.max()))
        if not self._is_judged:
            self._note_traffic(chunk)

    def _note_traffic(self, chunk: Capture) -> None:
        rows = ~(chunk.is_error | chunk.is_remote)
        self._tally.add_times(chunk.time_ns)
        if rows.any():
            self._tally.add_frames(chunk.can_id[rows], chunk.is_extended[rows], chunk.length[rows])

    def _judge(self, screen: Screen) -> Stop | None:
        """Once there is enough traffic: is this the pair that the plan means?"""
        if self._is_judged or self.last_ns - (self._live.first_ns or 0) < _KNOWN_NS:
            return None
        self._is_judged = True
        wanted = self._visit.network
        identity = identify(self._tally.result(), self._databases)
        mine = identity.candidate(wanted)
        told = f"{mine.explained} of its {identity.ids} ids fit {wanted}"
        if identity.network is not None and identity.network != wanted and not mine.is_possible:
            other = identity.candidate(identity.network)
            self.stop_text = (
                f"this is not {wanted}: {told}, {other.explained} fit {other.network}. Clip on to the pair "
                f"of {wanted}"
                + (f" ({self._visit.tap})" if self._visit.tap else "")
                + f" and record again, or give --network {other.network}"
            )
            self.other_network = other.network
            return Stop.WRONG_PAIR
        if not mine.is_possible:
            screen.say(f"Careful: only {told} so far. Is it the right pair?\n")
        return None

    def _ended(self, now: int) -> Stop | None:
        if self._live.has_ended:
            return self._fault()
        if self.guide.set_back_ns or self._clock.set_ahead:
            return self._clock_was_set()
        if self.guide.phase is not Phase.OVER:
            return None
        if not self.guide.acts:
            return Stop.DONE if now - self._begin_ns >= self._limits.record * 1e9 else None
        return None if self.guide.stillness_left_ns(now) else Stop.DONE

    def _clock_was_set(self) -> Stop:
        back = self.guide.set_back_ns / 1e9
        way = f"back by {back:.1f} s" if back else f"ahead by {self._clock.set_ahead:.1f} s"
        self.stop_text = (
            f"the clock that stamps the frames was set {way}, or the computer slept: what happened when can "
            "no longer be told. Let the clock settle, then record the rest"
        )
        return Stop.CLOCK

    def _fault(self) -> Stop:
        fault = self._live.fault
        self.stop_text = fault.error.what if fault is not None else "a fault of netcheck's own"
        return Stop.FAULT

    def _press(self, key: str, now: int) -> Outcome | None:
        guide = self.guide
        if guide.phase is Phase.ASK:
            return self._type(key, now)
        if key == ENTER:
            if not guide.acts:
                self._limits = Limits(self._limits.wait, 0.0)
            return guide.done(now)
        return guide.skip(now) if key == "s" else None

    def _type(self, key: str, now: int) -> Outcome | None:
        if key == ERASE:
            self._typed = self._typed[:-1]
        elif key in _TYPEABLE:
            self._typed += key
        elif key == ENTER:
            words, self._typed = self._typed.split(), ""
            try:
                low, high = (float(word.replace(",", ".")) for word in words)
            except ValueError:
                return None if words else self.guide.skip(now)
            return self.guide.limits(min(low, high), max(low, high), now)
        elif key == "s":
            self._typed = ""
            return self.guide.skip(now)
        return None

    def _tell(self, outcome: Outcome, screen: Screen) -> None:
        from netcheck.report.onsite import outcome_text

        screen.say(outcome_text(outcome, self.guide, width=screen.width, colour=screen.colour))

    _prompted = -1

    def _follow(self, screen: Screen, keys: Keys, now: int) -> None:
        """Say the next exercise when its turn has come."""
        from netcheck.report.onsite import prompt_text, stillness_text

        act, number = self.guide.current, len(self.guide.outcomes)
        if number == self._prompted or (act is None and self.guide.phase is not Phase.OVER):
            return
        self._prompted = number
        if act is not None:
            total = len(self.guide.acts)
            text = prompt_text(
                act, number + 1, total, width=screen.width, colour=screen.colour, keys=keys.present
            )
            screen.say(text)
        elif self.guide.acts:
            left = self.guide.stillness_left_ns(now) / 1e9
            screen.say(stillness_text(left, width=screen.width, colour=screen.colour, keys=keys.present))

    def _lines(self, screen: Screen, now: int) -> tuple[str, ...]:
        from netcheck.report.onsite import LiveState, live_lines

        live = self._live
        self._rate = [*self._rate[-20:], (now, live.frames)]
        (before, frames), seconds = self._rate[0], (now - self._rate[0][0]) / 1e9
        state = LiveState(
            seconds=max(now - (live.first_ns or now), 0) / 1e9,
            frames=live.frames,
            rate=(live.frames - frames) / seconds if before < now else 0.0,
            lost=live.losses.frames,
            silent=max(now - self.last_ns, 0) / 1e9,
            typed=self._typed,
        )
        return live_lines(self.guide, state, now, screen.width - 1)
