"""A guided recording from the first frame to the last: frames and keys to the guide, words to the screen."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from netcheck.cli._keys import ENTER, ERASE, Keys
from netcheck.cli._screen import Screen
from netcheck.errors import InputError
from netcheck.evidence import Guide, GuidePhase, Outcome, Silence, SilenceWatch
from netcheck.network import FrameId, Identity, IdentityLevel, Traffic, TrafficTally, identify
from netcheck.records import dataclass
from netcheck.report.recording import PairSeen, RecordStop, StopKind

if TYPE_CHECKING:
    from netcheck.capture import Capture
    from netcheck.capture.live import LiveCapture
    from netcheck.database import Database
    from netcheck.files import MarksWriter
    from netcheck.work import RecordingSession

_AHEAD: Final = 5.0  # s that a clock is found ahead of the steady one: it was set
TURN: Final = 0.1  # s between two looks
_KNOWN_NS: Final = 3_000_000_000  # of traffic until the pair is judged
_TYPEABLE: Final = frozenset("0123456789.,-+ ")


@dataclass(frozen=True)
class Limits:
    """Times in seconds. wait: for the first frame; record: without exercises."""

    wait: float
    record: float


@dataclass(frozen=True)
class PairIdentifier:
    """Which of the vehicle's networks a pair is. addresses: its diagnostic ids, which count for none."""

    databases: Mapping[str, Database]
    addresses: Collection[FrameId]

    def identity(self, traffic: Traffic) -> Identity:
        """As the plan has it."""
        return identify(traffic, self.databases, addresses=self.addresses)


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


def await_frames(
    live: LiveCapture, wait: float, terminal: tuple[Keys, Screen], clock: Callable[[], float]
) -> StopKind | None:
    """Until the first message has come; else why none did. wait: s"""
    from netcheck.report.recording import waiting_line

    keys, screen = terminal
    begin = clock()
    while not live.frames - live.error_frames:
        waited = clock() - begin
        if live.has_ended:
            return StopKind.FAULT
        if waited >= wait:
            return StopKind.ONLY_ERRORS if live.error_frames else StopKind.SILENCE
        if keys.wait(TURN) == "q":
            return StopKind.QUIT
        screen.show([waiting_line(live.error_frames, waited, wait, screen.room)])
    screen.clear()
    return None


class LiveRecording:
    """One recording.

    other_network: which network the pair clearly is, where it is not the one that was meant
    unsaved:       why the marks could not be written; "" when they were
    """

    def __init__(
        self,
        live: LiveCapture,
        guide: Guide,
        session: RecordingSession,
        identifier: PairIdentifier,
        limits: Limits,
    ) -> None:
        self.live = self._live = live
        self.guide = guide
        self._session = session
        self._identifier = identifier
        self._limits = limits
        self._tally = TrafficTally()
        self._is_judged = False
        self._typed = ""
        self._clock = ClockWatch()
        self._begin_ns = self._now_ns = self.last_ns = 0
        self._rate: list[tuple[int, int]] = []
        self._silences = SilenceWatch()
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

    @property
    def silences(self) -> tuple[Silence, ...]:
        """When no frame came, up to the last look."""
        return self._silences.until(self._now_ns)

    def run(self, keys: Keys, screen: Screen, clock: Callable[[], float], marks: MarksWriter) -> RecordStop:
        """Until the exercises are through, somebody stops it, or it cannot go on."""
        stop = self._first_frames(keys, screen, clock)
        if stop is not None:
            return stop
        self.save(marks)
        self._begin_ns = self._live.now_ns()
        self.guide.begin(self._begin_ns)
        self._announce(screen, keys)
        saved = 0
        while True:
            self._take(clock())
            now = self._now_ns = self._live.now_ns()
            stop = self._judge(screen) or self._ended(now)
            if stop is not None:
                return stop
            outcome = self.guide.advance(now)
            key = keys.wait(TURN)
            if key == "q" and self.guide.phase is not GuidePhase.ASK:
                return RecordStop(StopKind.QUIT)
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
        from netcheck.report.recording import origin_text

        first = self._live.first_ns
        if first is None:
            return
        proposed = self.guide.marks(first, self.last_ns)
        try:
            marks.save([(each.mark, origin_text(each.origin)) for each in proposed])
            self.unsaved = ""
        except InputError as error:
            self.unsaved = str(error)

    # the beginning

    def _first_frames(self, keys: Keys, screen: Screen, clock: Callable[[], float]) -> RecordStop | None:
        kind = await_frames(self._live, self._limits.wait, (keys, screen), clock)
        if kind is StopKind.FAULT:
            return self._fault()
        if kind in {StopKind.SILENCE, StopKind.ONLY_ERRORS}:
            return self._stopped(kind, seconds=self._limits.wait)
        return RecordStop(kind) if kind is not None else None

    def _stopped(
        self, kind: StopKind, *, seconds: float = 0.0, pair: PairSeen | None = None, said: str = ""
    ) -> RecordStop:
        session = self._session
        return RecordStop(kind, session.network, session.tap, session.bitrate, seconds, pair, said)

    def _announce(self, screen: Screen, keys: Keys) -> None:
        from netcheck.report.recording import nothing_to_do_text, quiet_text

        left = self.guide.quiet_left_ns(self._begin_ns) / 1e9
        if left:
            screen.say(quiet_text(left, width=screen.width, colour=screen.colour))
        elif self.guide.phase is GuidePhase.OVER:
            network, seconds = self._session.network, self._limits.record
            text = nothing_to_do_text(
                network, seconds, width=screen.width, colour=screen.colour, keys=keys.present
            )
            screen.say(text)

    # while it runs

    def _take(self, clock: float | None) -> None:
        chunk = self._live.take()
        if chunk is None:
            return
        self.guide.take(chunk)
        self._silences.take(chunk)
        if clock is not None:
            self._clock.take(int(chunk.time_ns.max()), clock)
        self.last_ns = max(self.last_ns, int(chunk.time_ns.max()))
        if not self._is_judged:
            self._count_traffic(chunk)

    def _count_traffic(self, chunk: Capture) -> None:
        rows = ~(chunk.is_error | chunk.is_remote)
        self._tally.add_times(chunk.time_ns)
        if rows.any():
            self._tally.add_frames(chunk.can_id[rows], chunk.is_extended[rows], chunk.length[rows])

    def _judge(self, screen: Screen) -> RecordStop | None:
        """Once there is enough traffic: is this the pair that the plan means?"""
        from netcheck.report.recording import doubtful_pair_text

        if self._is_judged or self.last_ns - (self._live.first_ns or 0) < _KNOWN_NS:
            return None
        self._is_judged = True
        wanted = self._session.network
        identity = self._identifier.identity(self._tally.result())
        mine, level = identity.candidate(wanted), identity.declared(wanted)
        pair = PairSeen(wanted, mine.explained, identity.ids, missing=mine.missing)
        is_known = identity.level is IdentityLevel.IDENTIFIED
        if level is IdentityLevel.NONE and is_known and identity.network is not None:
            other = identity.candidate(identity.network)
            self.other_network = other.network
            pair = replace(pair, other=other.network, other_explained=other.explained)
            return self._stopped(StopKind.WRONG_PAIR, pair=pair)
        if level is not IdentityLevel.IDENTIFIED:
            screen.say(doubtful_pair_text(pair, width=screen.width, colour=screen.colour))
        return None

    def _ended(self, now: int) -> RecordStop | None:
        if self._live.has_ended:
            return self._fault()
        if self.guide.set_back_ns or self._clock.set_ahead:
            seconds = -self.guide.set_back_ns / 1e9 if self.guide.set_back_ns else self._clock.set_ahead
            return self._stopped(StopKind.CLOCK_SET, seconds=seconds)
        if self.guide.phase is not GuidePhase.OVER:
            return None
        is_over = not self.guide.stillness_left_ns(now)
        if not self.guide.steps:
            is_over = now - self._begin_ns >= self._limits.record * 1e9
        return RecordStop(StopKind.DONE) if is_over else None

    def _fault(self) -> RecordStop:
        fault = self._live.fault
        return self._stopped(StopKind.FAULT, said=fault.error.what if fault is not None else "")

    def _press(self, key: str, now: int) -> Outcome | None:
        guide = self.guide
        if guide.phase is GuidePhase.ASK:
            return self._type(key, now)
        if guide.phase is GuidePhase.UNANSWERED and key.lower() in {"r", "y"}:
            return self._answer(key.lower(), now)
        if key == ENTER:
            if not guide.steps:
                self._limits = Limits(self._limits.wait, 0.0)
            return guide.done(now)
        return guide.skip(now) if key == "s" else None

    def _answer(self, key: str, now: int) -> Outcome | None:
        """To "it did not answer"."""
        if key == "y":
            return self.guide.insist(now)
        self.guide.again(now)
        self._prompted = -1
        return None

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
        from netcheck.report.recording import outcome_text

        screen.say(outcome_text(outcome, self.guide, width=screen.width, colour=screen.colour))
        if outcome.is_good:
            screen.beep()

    _prompted = -1
    _questioned = -1

    def _follow(self, screen: Screen, keys: Keys, now: int) -> None:
        """Say the next exercise when its turn has come, and put the question where one did not answer."""
        from netcheck.report.recording import prompt_text, stillness_text, unanswered_text

        step, number = self.guide.current, len(self.guide.outcomes)
        width, colour = screen.width, screen.colour
        if self.guide.phase is not GuidePhase.UNANSWERED:
            self._questioned = -1
        elif self._questioned != number:
            self._questioned = number
            screen.say(unanswered_text(width=width, colour=colour))
        if number == self._prompted or (step is None and self.guide.phase is not GuidePhase.OVER):
            return
        self._prompted = number
        if step is not None:
            total = len(self.guide.steps)
            screen.say(prompt_text(step, number + 1, total, width=width, colour=colour, keys=keys.present))
        elif self.guide.steps:
            left = self.guide.stillness_left_ns(now) / 1e9
            screen.say(stillness_text(left, width=width, colour=colour, keys=keys.present))

    def _lines(self, screen: Screen, now: int) -> tuple[str, ...]:
        from netcheck.report.recording import LiveState, live_lines

        live = self._live
        self._rate = [*self._rate[-20:], (now, live.frames)]
        (before, frames), seconds = self._rate[0], (now - self._rate[0][0]) / 1e9
        state = LiveState(
            seconds=max(now - (live.first_ns or now), 0) / 1e9,
            frames=live.frames,
            rate=(live.frames - frames) / seconds if before < now else 0.0,
            lost=live.losses.frames,
            silent=max(now - (self._silences.last_ns or now), 0) / 1e9,
            typed=self._typed,
        )
        return live_lines(self.guide, state, now, screen.room)
