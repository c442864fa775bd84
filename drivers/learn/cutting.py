"""How a stream may be cut: lines, packets, or frames of one length, told by pauses, a start or a check."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise

from config.profile import FixedFraming, Framing, KeyboardPort, LineFraming, PacketFraming
from drivers.capture import Piece
from drivers.framings import framer
from drivers.learn.checks import LINE_PAUSE_S, checked, packets_checked
from drivers.learn.heard import Cut, Hearing
from drivers.packets import END, bare

# What ends a line, longer ones first; ETX is the end of a text in ISO/IEC 646. One that types ends in Enter,
# or goes on by a tab.
TERMINATORS = ("\r\n", "\n\r", "\r", "\n", "\u0003")
TYPED = ("\n", "\t")
# Frames that a way of cutting must give at least, and the longest that is looked for.
LEAST_FRAMES, LONGEST = 6, 40
EDGE = 2
# The share of bursts that must be of one length: the first may be cut, and noise stand before it.
SAME_LENGTH = 0.8
# The share of those of one length that begin alike, where frames do.
WITHOUT_GARBAGE = 0.9
# Pauses that may part two frames, s; which of them do is tried.
PAUSES_S = (0.004, 0.012, 0.03, 0.08, 0.2)
# Nothing within a frame is told to be shorter: a reader looks up every so often.
SHORTEST_S = 0.002


def cuts(hearing: Hearing) -> Iterator[tuple[Framing, Cut]]:
    """Each framing by which most of what was heard are frames, and the frames."""
    yielded: list[Framing] = []
    for framing in _framings(hearing):
        if framing in yielded:
            continue
        yielded.append(framing)
        cut = _cut(hearing, framing)
        if len(cut.every) >= LEAST_FRAMES:
            yield framing, cut


def _framings(hearing: Hearing) -> Iterator[Framing]:
    if hearing.port.apart:
        yield from _packets(hearing)
        return
    yield from _lines(hearing)
    if not isinstance(hearing.port, KeyboardPort):
        yield from _fixed(hearing)


def _packets(hearing: Hearing) -> Iterator[Framing]:
    """As they are; of one length and with a check that holds, as that alone."""
    pieces = (piece.data for step in hearing.steps for piece in step.pieces)
    packets = [data for piece in pieces for written in piece.split(END) if (data := bare(written))]
    if not packets:
        return
    if len({len(packet) for packet in packets}) == 1 and (with_check := list(packets_checked(packets))):
        yield from with_check
        return
    yield PacketFraming(kind="packet", max_bytes=max(map(len, packets)) + 4)


def _cut(hearing: Hearing, framing: Framing) -> Cut:
    """By the very framer that will read the gauge; without the first few, among which may be garbage."""
    steps = []
    for step in hearing.steps:
        cutter = framer(framing, hunting=True)
        frames = [frame for piece in step.pieces for frame in cutter.split(piece.data, piece.time_ns)]
        steps.append(_inner(frames))
    return Cut(steps)


def _inner(frames: list[bytes]) -> list[bytes]:
    """The first of a step may be cut, with garbage before it; where there are few, as at a key, none is."""
    return frames[EDGE:] if len(frames) >= 2 * EDGE else frames


def _lines(hearing: Hearing) -> Iterator[Framing]:
    data = hearing.data
    for terminator in TYPED if isinstance(hearing.port, KeyboardPort) else TERMINATORS:
        mark = terminator.encode("latin-1")
        ends = data.count(mark)
        if ends < LEAST_FRAMES:
            continue
        longest = Counter(map(len, data.split(mark)[1:-1])).most_common(1)
        if not longest or longest[0][0] > LONGEST * 2:
            continue
        most = max((len(line) for line in data.split(mark)[1:-1] if len(line) <= LONGEST * 2), default=0)
        yield LineFraming(terminator=terminator, max_bytes=most + 4, max_pause_s=LINE_PAUSE_S)
        if all(data.count(one.encode()) == ends for one in terminator):
            return


def bursts(pieces: Sequence[Piece], pause_s: float) -> list[bytes]:
    """What came without a pause of so long between."""
    found: list[bytes] = []
    last_ns: int | None = None
    for piece in pieces:
        if last_ns is None or piece.time_ns - last_ns > pause_s * 1e9:
            found.append(b"")
        found[-1] += piece.data
        last_ns = piece.time_ns
    return found


def _fixed(hearing: Hearing) -> Iterator[Framing]:
    paused = False
    for pause_s in PAUSES_S:
        every = [burst for step in hearing.steps for burst in _inner(bursts(step.pieces, pause_s))]
        lengths = Counter(map(len, every))
        if not lengths:
            continue
        length, number = lengths.most_common(1)[0]
        if not 2 <= length <= LONGEST or number < max(LEAST_FRAMES, SAME_LENGTH * len(every)):
            continue
        paused = True
        yield from _told([burst for burst in every if len(burst) == length], _between(hearing, pause_s))
    if not paused:
        yield from _unpaused(hearing)


def _between(hearing: Hearing, pause_s: float) -> float:
    """A pause amid those within frames, which are shorter, and those between them, which are longer."""
    gaps = [(b.time_ns - a.time_ns) / 1e9 for step in hearing.steps for a, b in pairwise(step.pieces)]
    within = max((gap for gap in gaps if gap <= pause_s), default=0.0)
    between = min((gap for gap in gaps if gap > pause_s), default=pause_s)
    return float(f"{(max(within, SHORTEST_S) * between) ** 0.5:.1g}")


def _told(frames: Sequence[bytes], pause_s: float) -> Iterator[Framing]:
    """The framings that tell these frames from each other."""
    length = len(frames[0])
    (start, number), *_ = Counter(frame[0] for frame in frames).most_common(1)
    if number >= WITHOUT_GARBAGE * len(frames):
        frames = [frame for frame in frames if frame[0] == start]
    with_check = list(checked(frames, pause_s))
    if with_check:
        yield from with_check
        return
    first = {frame[0] for frame in frames}
    for mask in (0xFF, 0xF0, 0xC0, 0x80):
        starts = {byte & mask for byte in first}
        others = {byte & mask for frame in frames for byte in frame[1:]}
        if len(starts) == 1 and not starts & others:
            told = {} if mask == 0xFF else {"start_mask": mask}
            (start,) = starts
            yield FixedFraming.model_validate({"kind": "fixed", "length": length, "start_byte": start} | told)
    yield FixedFraming(kind="fixed", length=length, max_pause_s=pause_s)


def _unpaused(hearing: Hearing) -> Iterator[Framing]:
    """Frames one after another without a pause, told by a byte that comes in even steps and nowhere else."""
    data = hearing.data
    paused: Counter[int] = Counter()
    for step in hearing.steps:
        for sooner, later in pairwise(step.pieces):
            paused[later.data[0]] += later.time_ns - sooner.time_ns
    often = [byte for byte, number in Counter(data).items() if number >= LEAST_FRAMES]
    for start in sorted(often, key=lambda byte: -paused[byte]):  # before a start byte it pauses longest
        places = [at for at, byte in enumerate(data) if byte == start]
        steps = Counter(b - a for a, b in pairwise(places))
        length, times = steps.most_common(1)[0]
        if 2 <= length <= LONGEST and times >= SAME_LENGTH * (len(places) - 1):
            frames = [data[at : at + length] for at in places if at + length <= len(data)]
            yield from _told(frames, LINE_PAUSE_S)
