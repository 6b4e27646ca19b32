"""``netcheck record --find``: asks for presses, ranks what follows, writes log, marks and draft."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from netcheck.cli import _status as status
from netcheck.cli._draft import check_draft, extend_draft
from netcheck.cli._keys import Keys, open_keys
from netcheck.cli._options import Format, bus_words
from netcheck.cli._output import check_new, check_target, json_text, look, note, open_output
from netcheck.cli._record_run import TURN, ClockWatch, await_frames
from netcheck.cli._record_setup import are_read, channel_name
from netcheck.cli._screen import Screen
from netcheck.cli._signals import ended_gently
from netcheck.errors import NetcheckError, UsageError
from netcheck.records import dataclass
from netcheck.report.recording import ANY_NETWORK, RecordStop, StopKind

if TYPE_CHECKING:
    from netcheck.capture.live import LiveCapture, OpenBus
    from netcheck.files import MarksWriter
    from netcheck.find import Asking, FindMark, SearchGuide
    from netcheck.report.finding import DraftFile
    from netcheck.report.searching import FindCase

_HOW: Final = "asked for by netcheck record --find"
_BACK_NS: Final = 200_000_000  # frames that go back by more show that the clock was set


@dataclass(frozen=True)
class FindOptions:
    """What was given. press, still, wait: s"""

    roles: tuple[str, ...]
    output: Path | None
    draft: Path | None
    press: float
    still: float
    wait: float
    seed: int | None
    force: bool
    beeps: bool


def record_find(options: FindOptions, tap: tuple[str, str, int | None, Sequence[str]], form: Format) -> int:
    """Record and search. tap: interface, channel, bit rate, options of the interface"""
    from netcheck.capture.live import Tapping, open_bus
    from netcheck.files import ROLE_PATTERN, side_file

    interface, channel, bitrate, words = tap
    for role in options.roles:
        if not ROLE_PATTERN.fullmatch(role):
            raise UsageError(f"--find: '{role}' is not a role name", remedy="see 'netcheck roles --list'")
    if bitrate is None:
        raise UsageError(
            "--bitrate is missing: without a vehicle file nobody says it",
            remedy="give it in bit/s, such as 500000; a wrong one can disturb the network",
        )
    log = options.output or Path(f"find_{options.roles[0]}_{time.strftime('%Y%m%d_%H%M%S')}.log")
    if log.suffix != ".log":
        raise UsageError(f"-o {log} does not end in .log", remedy="a recording is a candump log: name it so")
    for target in (log, side_file(log)):
        check_target(target, [])
        check_new(target, force=options.force)
    check_draft(options.draft, [log, side_file(log)])
    opened = open_bus(Tapping(interface, channel, bitrate, None, bus_words(words)))
    with ended_gently(), open_keys() as keys:
        return _record(options, log, opened, (keys, Screen(beeps=options.beeps)), form)


def _record(
    options: FindOptions, log: Path, opened: OpenBus, terminal: tuple[Keys, Screen], form: Format
) -> int:
    from netcheck.capture.live import LiveCapture, LogFile
    from netcheck.files import MarksWriter, side_file

    keys, screen = terminal
    with LiveCapture(opened, channel_name(opened.tapping.channel)) as live:
        recording = FindRecording(live, _guide(options), options.wait, opened.tapping.bitrate or 0)
        if not _introduce(options, opened, keys, screen):
            note("nothing was recorded")
            return status.UNPROVEN
        head = [f"Marks of {log.name}, written by netcheck record."]
        marks = MarksWriter(side_file(log), head, replace=options.force)
        try:
            live.keep(LogFile(log, replace=options.force))
            try:
                stop = recording.run(keys, screen, time.monotonic)
            except KeyboardInterrupt:
                stop = RecordStop(StopKind.INTERRUPTED)
            screen.clear()
            live.stop()
            recording.finish(marks)
        finally:
            if not recording.marks and (live.frames or not options.force):
                marks.discard()
    if live.fault is not None and stop.kind is not StopKind.INTERRUPTED:
        stop = RecordStop(StopKind.FAULT, said=live.fault.error.what)
    return _conclude(options, log, recording, stop, form)


def _guide(options: FindOptions) -> SearchGuide:
    from netcheck.find import Pace, SearchGuide

    seed = options.seed if options.seed is not None else time.time_ns()
    return SearchGuide(options.roles, Pace(shortest=options.press, quiet=options.still), seed)


def _introduce(options: FindOptions, opened: OpenBus, keys: Keys, screen: Screen) -> bool:
    from netcheck.report.searching import find_introduction

    tapping = opened.tapping
    parts = find_introduction(
        options.roles,
        interface=tapping.name,
        bitrate=tapping.bitrate or 0,
        listening=opened.listening,
        width=screen.width,
        colour=screen.colour,
    )
    return are_read(parts, screen, keys)


class FindRecording:
    """One recording: frames and keys to the guide, its words to the screen."""

    def __init__(self, live: LiveCapture, guide: SearchGuide, wait: float, bitrate: int) -> None:
        """wait: for the first frame, s; bitrate: as given, for messages"""
        self.live, self.guide = live, guide
        self._bitrate = bitrate
        self.last_ns = 0
        self._wait = wait
        self._clock = ClockWatch()
        self._set_back_ns = 0

    @property
    def marks(self) -> list[FindMark]:
        """When what was asked for; none where the clock was set: its times mean nothing."""
        return [] if self._set_back_ns or self._clock.set_ahead else self.guide.marks()

    def run(self, keys: Keys, screen: Screen, clock: Callable[[], float]) -> RecordStop:
        """Until the roles are through, somebody stops it, or it cannot go on."""
        live, guide = self.live, self.guide
        kind = await_frames(live, self._wait, (keys, screen), clock)
        if kind is not None:
            return self._stopped(kind)
        now = live.now_ns()
        self._say(guide.begin(live.first_ns or now, now), keys, screen)
        while not guide.is_over:
            self._take(clock())
            if live.has_ended:
                return self._stopped(StopKind.FAULT)
            if self._set_back_ns or self._clock.set_ahead:
                return self._stopped(StopKind.CLOCK_SET)
            now = live.now_ns()
            self._say(guide.advance(now), keys, screen)
            key = keys.wait(TURN)
            if key == "q":
                return RecordStop(StopKind.QUIT)
            if key == "r":
                guide.again(now)
            if key == "s":
                self._say(guide.skip(now), keys, screen)
            screen.show(self._lines(now, screen.room))
        return RecordStop(StopKind.DONE)

    def finish(self, marks: MarksWriter) -> None:
        """The recording has ended: take what was still on its way, save the marks."""
        from netcheck.files import Mark

        self._take(None)
        self.guide.stop()
        found = [
            Mark.model_validate(
                {
                    "role": each.role,
                    "state": each.state,
                    "from": round(each.begin, 3),
                    "to": round(each.end, 3),
                }
            )
            for each in self.marks
        ]
        if found:
            marks.save([(mark, _HOW) for mark in found])

    def _take(self, clock: float | None) -> None:
        chunk = self.live.take()
        if chunk is None:
            return
        back = self.last_ns - int(chunk.time_ns.min())
        if back > _BACK_NS:
            self._set_back_ns = back
        if self._set_back_ns:
            return
        self.guide.take(chunk)
        self.last_ns = max(self.last_ns, int(chunk.time_ns.max()))
        if clock is not None:
            self._clock.take(self.last_ns, clock)

    def _say(self, told: Sequence[Asking], keys: Keys, screen: Screen) -> None:
        from netcheck.report.searching import asking_text, is_heard

        for each in told:
            text = asking_text(each, self.guide, width=screen.width, colour=screen.colour, keys=keys.present)
            if text.strip():
                screen.say(text)
            if is_heard(each):
                screen.beep()

    def _lines(self, now: int, width: int) -> list[str]:
        from netcheck.report.searching import find_live_lines

        return find_live_lines(self.guide, self.live.frames, now, width)

    def _stopped(self, kind: StopKind) -> RecordStop:
        fault = self.live.fault
        seconds = self._wait
        if kind is StopKind.CLOCK_SET:
            seconds = -self._set_back_ns / 1e9 if self._set_back_ns else self._clock.set_ahead
        return RecordStop(
            kind,
            network=ANY_NETWORK,
            bitrate=self._bitrate,
            seconds=seconds,
            said=fault.error.what if fault is not None else "",
        )


def _conclude(
    options: FindOptions, log: Path, recording: FindRecording, stop: RecordStop, form: Format
) -> int:
    from netcheck.files import side_file
    from netcheck.report.recording import stop_text
    from netcheck.report.searching import FindCase

    live, guide = recording.live, recording.guide
    fault: NetcheckError | None = live.fault.error if live.fault else None
    searches = guide.searches(log.name) if recording.marks else []
    draft: DraftFile | None = None
    if options.draft is not None and searches and stop.kind in {StopKind.DONE, StopKind.QUIT}:
        try:
            draft = extend_draft(options.draft, searches, guide.movements(log.name))
        except NetcheckError as error:
            fault = fault or error
    if searches:
        marks = side_file(log) if recording.marks else None
        seconds = max(recording.last_ns - (live.first_ns or 0), 0) / 1e9
        case = FindCase(
            log,
            marks,
            live.channel,
            live.frames,
            seconds,
            live.losses,
            stop,
            options.roles,
            tuple(searches),
            draft,
        )
        with open_output(None) as out:
            out.write(_result(case, form))
    if stop.kind is StopKind.INTERRUPTED:
        return status.INTERRUPTED
    if fault is not None:
        raise fault
    if not searches:
        note(stop_text(stop) or "no press was recorded")
    return _status(options, case) if searches else status.UNPROVEN


def _status(options: FindOptions, case: FindCase) -> int:
    from netcheck.report.finding import draft_conflicts

    is_clear = len(case.searches) == len(options.roles) and all(each.separated for each in case.searches)
    is_settled = case.draft is None or not draft_conflicts(case.draft.change.roles)
    return status.GO if is_clear and is_settled else status.UNPROVEN


def _result(case: FindCase, form: Format) -> str:
    from netcheck.report.searching import record_find_json, record_find_text

    if form is Format.JSON:
        return json_text(record_find_json(case))
    how = look(None)
    return record_find_text(case, width=how.width, colour=how.colour)
