"""Nothing is lost uncounted: every frame that came whole to an open port in a sweep is a reading of it, or a
hole that its numbering counts, or lies where the journal says that something was away."""

from __future__ import annotations

from collections.abc import Iterator

from acquire.journal.events import Event, GaugeAway, GaugeBack, Resumed, Sample, SweepBegun, SweepEnded
from simulators.bay import Frame
from tests.virtual.world import VirtualWorld

# What the log says when readings may find no room: a disk that is full.
FULL = "journal cannot be written"


def uncounted(world: VirtualWorld, events: list[Event]) -> Iterator[str]:
    """Of one inspection; what is wrong, one sentence each."""
    frames: dict[tuple[int, str], list[Frame]] = {}
    for frame in world.bay.frames:
        frames.setdefault((frame.run, frame.gauge), []).append(frame)
    running: dict[int, tuple[SweepBegun, list[Event]]] = {}
    for event in events:
        if isinstance(event, SweepBegun):
            running[event.seq] = event, []
            continue
        # Of several side by side, what is said of one of them is of that one.
        own = getattr(event, "sweep", 0)
        for begun, inside in [one for seq, one in running.items() if own in (0, seq)]:
            inside.append(event)
            if isinstance(event, SweepEnded):
                yield from _of_sweep(world, begun, inside, frames)
                del running[begun.seq]


def _of_sweep(
    world: VirtualWorld,
    begun: SweepBegun,
    inside: list[Event],
    frames: dict[tuple[int, str], list[Frame]],
) -> Iterator[str]:
    gauges = [gauge for gauge in (begun.gauge.id, begun.angle.gauge) if gauge not in (None, "typed")]
    for spell in _spells(inside):
        for gauge in gauges:
            kept = [event for event in spell if isinstance(event, Sample) and event.gauge == gauge]
            if len(kept) < 2:
                continue
            run = _run_of(kept, frames, str(gauge))
            if run is None:  # all of them were read late, and have times of their own
                continue
            numbers = [sample.reading for sample in kept]
            if numbers != sorted(set(numbers)):
                yield f"{gauge}: the readings of sweep {begun.seq} are not numbered upwards"
            holes = numbers[-1] - numbers[0] + 1 - len(numbers)
            first, last = kept[0].time_ns, kept[-1].time_ns
            sent = [f for f in frames[run, str(gauge)] if first <= f.time_ns <= last]
            away = any(isinstance(e, (GaugeAway, GaugeBack)) and e.gauge == gauge for e in spell)
            late = any(frame.late for frame in sent) or any(sample.u_ns for sample in kept)
            whole = [frame for frame in sent if frame.whole]
            if not away and not late and len(kept) + holes < len(whole):
                yield (
                    f"{gauge}: {len(whole)} whole frames came within sweep {begun.seq}, "
                    f"{len(kept)} were kept and {holes} counted as lost"
                )
            if late or away or not all(frame.whole for frame in sent):
                continue
            if len(kept) + holes != len(sent):
                yield (
                    f"{gauge}: of {len(sent)} frames on a sound line {len(kept)} were kept "
                    f"and {holes} counted as lost in sweep {begun.seq}"
                )
            if holes and not world.said[FULL]:
                yield f"{gauge}: {holes} frames on a sound line are counted as lost in sweep {begun.seq}"


def _spells(inside: list[Event]) -> Iterator[list[Event]]:
    """What lies between two starts of the daemon."""
    spell: list[Event] = []
    for event in inside:
        if isinstance(event, Resumed):
            yield spell
            spell = []
        spell.append(event)
    yield spell


def _run_of(kept: list[Sample], frames: dict[tuple[int, str], list[Frame]], gauge: str) -> int | None:
    """Which start of the daemon these readings are of: that which heard frames at their times."""
    times = {sample.time_ns for sample in kept}
    best = max(
        ((sum(f.time_ns in times for f in sent), run) for (run, of), sent in frames.items() if of == gauge),
        default=(0, 0),
    )
    return best[1] if best[0] else None
