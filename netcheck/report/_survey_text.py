"""A survey as text: each channel's network, health and messages, then what to do next."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from netcheck.network import ChannelSurvey, IdentityLevel, Ranked, RemarkKind, Survey, SurveyedMessage
from netcheck.report._checksum_words import problem_text, tried_checksums
from netcheck.report._page import Page, Style, StyledText
from netcheck.report._remark_parts import RemarkWords
from netcheck.report._remarks_network import fit_text
from netcheck.report._survey_rows import (
    TableColumns,
    has_moved,
    is_remarkable,
    is_unsure,
    message_details,
    message_row,
)
from netcheck.report._survey_words import remark_words
from netcheck.words import bit_rate, counted, listing, path_text, sentence, unique

MOST_MESSAGES: Final = 16  # a channel, unless all are asked for
_MOST_PERIODS: Final = 4
_MOST_SENDERS: Final = 6
_USUAL_RATES: Final = (125_000, 250_000, 500_000)
_MUCH_MORE: Final = 1.05  # load while awake against that of the whole span, before both are said
_LABEL: Final = 12
_MOST_UNSEEN: Final = 6


def survey_text(survey: Survey, *, width: int, colour: bool, verbose: bool = False) -> str:
    """The survey of one capture for people. verbose: every message, each with all that was found."""
    page = Page(width)
    channels = listing([channel.channel for channel in survey.channels], most=6)
    span = f"in {_time(survey.seconds)}" if survey.has_times else "without time stamps"
    page.text(f"{path_text(survey.file)}: {counted(survey.frames, 'frame')} {span} on {channels}")
    if survey.skipped and not survey.warnings:
        page.text(f"{counted(survey.skipped, 'line')} skipped that hold no frame")
    for warning in (*survey.warnings, *map(problem_text, survey.data_id_problems)):
        page.entry("!", warning, style=Style.DOUBT)
    for channel in survey.channels:
        _write_channel(page, channel, bool(survey.networks), verbose)
    page.heading("What to do next")
    for number, step in enumerate(_next_steps(survey), 1):
        page.entry(f"{number}.", step)
    return page.render(colour=colour)


def _write_channel(page: Page, channel: ChannelSurvey, has_networks: bool, verbose: bool) -> None:
    page.heading(f"{channel.channel}: {_headline(channel, has_networks)}")
    if has_networks and channel.candidates and channel.messages:
        page.entry("Network", _network_text(channel), column=_LABEL)
        if channel.fit is not None:
            page.entry("DBC", fit_text(channel.fit), column=_LABEL)
        if verbose:
            for entry in channel.candidates[:8]:
                page.entry("", _fit_text(entry), column=_LABEL)
    page.entry("Frames", _frames_text(channel), column=_LABEL)
    if channel.messages:
        page.entry("Ids", _ids_text(channel), column=_LABEL)
        page.entry("Checks", _checks_text(channel), column=_LABEL)
        if channel.unseen:
            page.entry("Not seen", _unseen_text(channel, verbose), column=_LABEL)
        page.entry("Load", _load_text(channel), column=_LABEL)
    page.entry("Errors", _errors_text(channel), column=_LABEL)
    if channel.is_j1939:
        page.entry("J1939", _j1939_text(channel), column=_LABEL)
    for words in map(remark_words, channel.remarks):
        style = Style.BAD if words.is_grave else Style.DOUBT
        cause = f" Likely: {words.cause}" if words.cause else ""
        page.entry("!", sentence(_capital(words.found)) + cause, style=style)
    if channel.messages:
        page.blank()
        _write_messages(page, channel, verbose)


def _unseen_text(channel: ChannelSurvey, verbose: bool) -> str:
    """Messages of the DBC that never came: equipment that is not fitted, or a sender that is silent."""
    known = next(entry.messages for entry in channel.candidates if entry.network == channel.network)
    names = listing(channel.unseen, most=0 if verbose else _MOST_UNSEEN)
    return f"{len(channel.unseen):,} of {counted(known, 'message')} of its DBC: {names}"


def _headline(channel: ChannelSurvey, has_networks: bool) -> str:
    if not channel.messages:
        return "no message"
    if not has_networks:
        return "network not looked for"
    words = _of_network(channel)
    return words.channel if words else channel.network or ""


def _of_network(channel: ChannelSurvey) -> RemarkWords | None:
    """The words of the remark that says which network this may be; None where it is clear."""
    return next((words for words in map(remark_words, channel.remarks) if words.channel), None)


def _network_text(channel: ChannelSurvey) -> str:
    best, *others = channel.candidates
    text = f"{best.explained} of {counted(best.ids, 'id')} match the DBC of {best.network}"
    rivals = [f"{entry.explained} that of {entry.network}" for entry in others if entry.explained]
    text += "".join(f", {rival}" for rival in rivals[:3])
    if len(rivals) > 3:
        text += f" and {counted(len(rivals) - 3, 'other')} fewer or less well"
    words = _of_network(channel)
    if words:
        return f"{text}: {words.match}"
    strongest = max((entry.explained for entry in others), default=0)
    return f"{text}: {'clear' if best.explained >= 2 * strongest else 'the best match, by a small margin'}"


def _fit_text(entry: Ranked) -> str:
    parts = [f"{entry.explained} of its {counted(entry.messages, 'message')} came"]
    parts.append(f"{entry.exact} with exactly the declared length")
    if entry.timed:
        parts.append(f"{entry.on_time} of {entry.timed} keep their cycle time")
    if entry.plausible is not None:
        parts.append(f"{entry.plausible:.0%} of the values are within their limits")
    if entry.covered is not None:
        parts.append(f"{entry.covered:.0%} of the changing bits belong to a signal")
    return f"{entry.network}: {', '.join(parts)}"


def _frames_text(channel: ChannelSurvey) -> str:
    awake = channel.awake_seconds
    text = f"{channel.frames:,}" + (f" in {_time(channel.seconds)}" if channel.has_times else "")
    if awake:
        text += f", {channel.data_frames / awake:,.0f} per second while awake"
    if len(channel.awake_periods) > 1:
        shown = [f"{start:.1f}–{end:.1f} s" for start, end in channel.awake_periods[:_MOST_PERIODS]]
        more = len(channel.awake_periods) - len(shown)
        text += f"; awake {_time(awake)} in {len(channel.awake_periods):,} periods: {', '.join(shown)}"
        text += f" and {more:,} more" if more else ""
    elif awake:
        text += ", awake all the time" if awake > 0.95 * channel.seconds else f", awake {_time(awake)}"
    if channel.remote_frames:
        text += f"; {counted(channel.remote_frames, 'remote frame')} (requests without data) among them"
    return text


def _ids_text(channel: ChannelSurvey) -> str:
    wide = sum(message.frame_id.is_extended for message in channel.messages)
    total = len(channel.messages)
    kinds = [f"{total - wide:,} of 11 bit"] if total - wide else []
    kinds += [f"{wide:,} of 29 bit"] if wide else []
    more = "more than " if any(remark.kind is RemarkKind.IDS_BEYOND for remark in channel.remarks) else ""
    text = f"{more}{total:,}: {', '.join(kinds)}"
    fast = sum(message.fd_count > 0 for message in channel.messages)
    if fast:
        text += f"; {fast:,} in CAN FD ({counted(channel.fd_frames, 'frame')})"
    if channel.network:
        text += f"; {sum(bool(message.name) for message in channel.messages):,} with a name"
    return text


def _checks_text(channel: ChannelSurvey) -> str:
    """Which checksums were looked for where none was found: others may be there."""
    checked = sum(message.checksum is not None for message in channel.messages)
    counters = sum(message.counter is not None for message in channel.messages)
    text = f"{counters or 'no'} message{'' if counters == 1 else 's'} with a counter, "
    if checked:
        return text + f"{checked:,} with a checksum"
    return text + f"none with a checksum of a kind that was tried ({tried_checksums()})"


def _load_text(channel: ChannelSurvey) -> str:
    load, rates = channel.load, channel.rates
    if not channel.has_times:
        return "not known: the lines have no time stamps"
    if not channel.seconds:
        return "not known: all frames have the same time"
    if load is None or rates is None:
        return _bits_text(channel)
    at_most = "at most " if load.is_bound else ""
    text = f"{at_most}{_percent(load.mean)} of {bit_rate(rates.nominal)} on average"
    if channel.seconds < 1:
        return f"{text}; too short for a busiest second"
    if load.mean_awake > _MUCH_MORE * load.mean:
        text += f", {_percent(load.mean_awake)} while awake"
    text += (
        f", {_percent(load.peak_1s)} in the busiest second, {_percent(load.peak_100ms)} in the busiest 100 ms"
    )
    text += " (rough: frames were stamped in batches)" if channel.recorder.is_batched else ""
    return text + ("; the data-phase bit rate is not known (--fd-bitrate)" if load.is_bound else "")


def _bits_text(channel: ChannelSurvey) -> str:
    if channel.seconds < 1:
        return f"bit rate not known; {channel.bits.total:,} bits in all"
    busiest = channel.bits.peak_1s
    shares = ", ".join(
        f"{_percent(busiest / rate)} at {rate // 1000}" for rate in _USUAL_RATES if busiest <= rate
    )
    text = f"bit rate not known; {busiest:,} bits in the busiest second"
    return f"{text}: {shares} kbit/s" if shares else text


def _errors_text(channel: ChannelSurvey) -> str:
    """How many; the remark about them says of which kinds."""
    if not channel.error_frames:
        return "no error frame in the log (not every recorder writes them)"
    return counted(channel.error_frames, "error frame")


def _j1939_text(channel: ChannelSurvey) -> str:
    groups: dict[int, set[int]] = {}
    for message in channel.messages:
        if message.j1939:
            groups.setdefault(message.j1939.source, set()).add(message.j1939.group)
    names = {m.j1939.source: m.j1939.source_name for m in channel.messages if m.j1939}
    texts = [
        f"{source}{f' ({names[source]})' if names[source] else ''}: {counted(len(groups[source]), 'group')}"
        for source in sorted(groups)
    ]
    shown = "; ".join(texts[:_MOST_SENDERS])
    more = len(texts) - _MOST_SENDERS
    return f"{counted(len(groups), 'source address', 'source addresses')} – {shown}" + (
        f"; {more} more" if more > 0 else ""
    )


def _write_messages(page: Page, channel: ChannelSurvey, verbose: bool) -> None:
    chosen = _chosen(channel.messages, verbose)
    columns = TableColumns.of(chosen, page.width)
    page.raw(StyledText(columns.header(), Style.STRONG))
    for message in chosen:
        style = Style.DOUBT if is_remarkable(message) else Style.PLAIN
        page.raw(StyledText(message_row(message, columns), style))
        if verbose:
            for detail in message_details(message, is_batched=channel.recorder.is_batched):
                page.text(detail, indent=columns.indent)
    left_out = len(channel.messages) - len(chosen)
    if left_out:
        more = counted(left_out, "more message")
        page.text(f"and {more} without a remark: those that never changed or came seldom; -v shows all")
    if any(message.timing.at_changes and message.timing.period for message in chosen):
        page.text("+ sent at changes as well")
    if any(is_unsure(message) for message in chosen):
        page.text("? came too few times to be sure of the period")


def _chosen(messages: Sequence[SurveyedMessage], verbose: bool) -> list[SurveyedMessage]:
    """All; or those with a remark, that moved, or that came most often: what never moved stands last."""
    if verbose:
        return list(messages)
    ranked = sorted(
        messages, key=lambda message: (not is_remarkable(message), not has_moved(message), -message.count)
    )
    kept = {message.frame_id for message in ranked[:MOST_MESSAGES]}
    return sorted(
        (message for message in messages if message.frame_id in kept),
        key=lambda message: not (has_moved(message) or is_remarkable(message)),
    )


def _next_steps(survey: Survey) -> list[str]:
    said = [
        (channel.channel, remark_words(remark)) for channel in survey.channels for remark in channel.remarks
    ]
    steps = list(unique(f"{channel}: {words.next}" for channel, words in said if words.next))
    if not survey.networks:
        steps.append("To find out which network this is, give --vehicle FILE, or --dbc FILE or FOLDER.")
    if any(channel.messages and channel.has_times and channel.load is None for channel in survey.channels):
        steps.append("For the load in percent, give the recorder's bit rate with --bitrate.")
    known = [channel for channel in survey.channels if channel.identity is IdentityLevel.IDENTIFIED]
    named = unique(channel.network for channel in known if channel.network)
    if named and not any(words.is_grave or words.bars_plan for _, words in said):
        steps.append(f"Use the capture for {listing(named)} in a job file, and run netcheck plan.")
    return steps


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _percent(share: float) -> str:
    return f"{share:.0%}" if share >= 0.1 or share == 0 else f"{share:.1%}"


def _time(seconds: float) -> str:
    if 0 < seconds < 1:
        return f"{seconds:.2g} s"
    if seconds < 120:
        return f"{seconds:.1f} s"
    if seconds < 7200:
        return f"{seconds / 60:.1f} min"
    return f"{seconds / 3600:.1f} h"
