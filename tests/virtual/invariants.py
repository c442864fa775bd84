"""What must hold at the end of every inspection, whatever went wrong."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

import grading.assess
from acquire.bay.evidence import to_evidence
from acquire.bay.inspection import InspectionState, Take, fold
from acquire.errors import FoldError
from acquire.journal.events import Event, Sample, SweepBegun, SweepEnded
from acquire.journal.reader import JournalReader, StoredResult
from chain.signing import read_checkpoint, read_record
from chain.verify import Kept, verify
from chain.walk import Document, Entry
from config.method import Method
from contract.chain import ChainResult
from contract.document import decode, encode
from contract.result import Result
from tests.virtual.counted import uncounted
from tests.virtual.judging import _judge
from tests.virtual.people import PASSING, Asked, People
from tests.virtual.plan import Plan
from tests.virtual.world import VirtualWorld, rows_of

# Events that a command of this name causes where it is done: how many. Two surfaces may be read side by side:
# both are ended at once, and the reply names the other.
EFFECTS = {
    "open": (1,), "begin": (1,), "mark": (1,), "end": (1, 2), "cancel": (1, 2), "record": (1,), "close": (1,),
    "sign": (1,), "abandon": (1, 2, 3), "resend": (0,),
}  # fmt: skip


def findings(world: VirtualWorld, people: People) -> list[str]:
    """Everything that is wrong, one sentence each."""
    reader = JournalReader(world.path)
    try:
        events = {name: reader.read(name) for name in reader.inspections()}
        results, chain = reader.results(), [one.record for one in reader.chain()]
        stored_replies = dict(reader._select("SELECT id, body FROM reply", ()))
        per_sweep = dict(reader._select("SELECT sweep, count(*) FROM sample GROUP BY sweep", ()))
    finally:
        reader.close()
    found = [f"the log says: {fault}" for fault in world.faults]
    found += _kept(world)
    found += _all_folded(events, per_sweep)
    found += _done_once(people, events, stored_replies)
    found += _regraded(world, events, results)
    found += _published(world, people, events, results)
    found += _recorded(world, results)
    found += _chained(world, chain, results)
    found += _told_in_the_end(world, results, events)
    for name in events:
        found += uncounted(world, events[name])
    found += never_keep_over(world.plan, world.files.method, results)
    return found


def _kept(world: VirtualWorld) -> Iterator[str]:
    """What was committed when the daemon was killed is there, unchanged."""
    rows = set(rows_of(world.path))
    for number, snapshot in enumerate(world.snapshots):
        gone = [row for row in snapshot if row not in rows]
        if gone:
            yield f"{len(gone)} committed rows are gone since kill {number + 1}: {gone[0]}"


def _all_folded(events: dict[str, list[Event]], per_sweep: dict[int, int]) -> Iterator[str]:
    """Every committed reading is of the sweep that it was kept for: none lies outside of it unseen."""
    seen: Counter[int] = Counter()
    for told in events.values():
        running: set[int] = set()
        for event in told:
            match event:
                case SweepBegun():
                    running.add(event.seq)
                case SweepEnded():
                    running.discard(event.sweep or max(running, default=0))
                case Sample() if event.sweep in running:
                    seen[event.sweep] += 1
    for sweep, count in per_sweep.items():
        if seen[sweep] != count:
            yield f"sweep {sweep} has {count} committed readings, {seen[sweep]} of them within it"


def _done_once(people: People, events: dict[str, list[Event]], stored: dict[str, bytes]) -> Iterator[str]:
    """Each command's effect is there once where its reply says done, not at all where it says refused."""
    by_operator = Counter(event.operator for told in events.values() for event in told if event.operator)
    for request, asked in people.asked.items():
        effects = by_operator[asked.operator]
        if effects not in (0, *EFFECTS[asked.name]):
            yield f"{asked.name} {request} had {effects} effects"
        last = _standing(asked)
        if len({json.dumps(reply, sort_keys=True) for reply in last}) > 1:
            yield f"{asked.name} {request} was answered in different ways: {last}"
        for reply in last:
            wanted = EFFECTS[asked.name] if reply["ok"] else (0,)
            if reply["ok"] and asked.name in ("end", "cancel"):
                wanted = (1 + len(reply.get("others", ())),)
            if effects not in wanted:
                yield f"{asked.name} {request} was answered {reply} and had {effects} effects"
            if reply["ok"] and request not in stored:
                yield f"{asked.name} {request} was answered, and its reply is not in the journal"
    for operator in by_operator:
        if operator not in {asked.operator for asked in people.asked.values()}:
            yield f"an effect of nobody's command: {operator}"


def _standing(asked: Asked) -> list[dict[str, Any]]:
    """The replies that say what became of this very command."""
    passing = (*PASSING, "id-reused")
    return [reply for reply in asked.replies if reply["ok"] or reply["error"]["code"] not in passing]


def _regraded(
    world: VirtualWorld, events: dict[str, list[Event]], results: list[StoredResult]
) -> Iterator[str]:
    """Each kept result is the fold of the journal, graded anew; the last of a graded seed without memory."""
    latest = _latest(results)
    for result in results:
        try:
            state = fold(events[result.inspection], revision=result.revision)
        except FoldError as error:
            yield f"{result.inspection} revision {result.revision} cannot be folded: {error}"
            continue
        if _assessed(state) != result.document:
            yield f"{result.inspection} revision {result.revision} graded anew gives other bytes"
        if world.plan.is_graded and latest[result.inspection] == result.revision:
            evidence, method = to_evidence(state), Method.model_validate(state.opened.method)
            held, grading.assess.judge = grading.assess.judge, _judge
            try:
                if encode(grading.assess.assess(evidence, method)) != result.document:
                    yield f"{result.inspection} revision {result.revision} graded in full gives other bytes"
            finally:
                grading.assess.judge = held
    for name, told in events.items():
        if latest.get(name) != fold(told).revision:
            yield f"{name} is at revision {fold(told).revision}, its latest result at {latest.get(name)}"


def _latest(results: list[StoredResult]) -> dict[str, int]:
    """The highest revision of each inspection; the wall clock may have been put back between two."""
    return {result.inspection: result.revision for result in sorted(results, key=lambda r: r.revision)}


def _assessed(state: InspectionState) -> bytes:
    return encode(grading.assess.assess(to_evidence(state), Method.model_validate(state.opened.method)))


def _published(
    world: VirtualWorld, people: People, events: dict[str, list[Event]], results: list[StoredResult]
) -> Iterator[str]:
    """Results and events on MQTT: each that is kept and no other, in order, with the same bytes; more than
    once only where a connection ended, a daemon was killed, or somebody asked for it again."""
    resends = sum(asked.name == "resend" for asked in people.asked.values())
    most = 1 + world.kills + world.broker.sessions + resends
    kept = {(result.inspection, result.document): 0 for result in results}
    told = {event.seq: 0 for one in events.values() for event in one if not isinstance(event, Sample)}
    order: dict[str, list[int]] = {}
    kinds = {event.seq: event for one in events.values() for event in one}
    for message in world.broker.taken:
        level = message.topic.removeprefix(world.topics.root).split("/")[1:]
        if len(level) != 3 or level[0] != "inspection":
            continue
        if level[2] == "result":
            if (level[1], message.payload) not in kept:
                yield f"a result of {level[1]} was published that the journal does not hold"
                continue
            kept[level[1], message.payload] += 1
            continue
        said = json.loads(message.payload)
        event = kinds.get(said["seq"])
        if event is None or (event.kind, event.time_ns, event.operator, event.inspection) != (
            said["event"], said["t_ns"], said["operator"], level[1]
        ):  # fmt: skip
            yield f"an event was published that the journal does not hold: {said}"
            continue
        told[said["seq"]] += 1
        if told[said["seq"]] == 1:
            order.setdefault(level[1], []).append(said["seq"])
    for (inspection, document), times in kept.items():
        if not 1 <= times <= most:
            yield f"{inspection} revision {json.loads(document)['revision']} was published {times} times"
    for seq, times in told.items():
        if not 1 <= times <= most:
            yield f"event {seq} ({kinds[seq].kind}) was published {times} times"
    for inspection, seqs in order.items():
        if seqs != sorted(seqs):
            yield f"the events of {inspection} came out of order: {seqs}"


def _recorded(world: VirtualWorld, results: list[StoredResult]) -> Iterator[str]:
    """The records hold each revision, byte for byte, and nothing else."""
    kept = {(result.inspection, result.revision): result.document for result in results}
    records = world.records
    if records.contradicted:
        yield f"the records were handed other bytes of {records.contradicted}"
    if records.stored != kept:
        odd = sorted(set(kept.items()) ^ set(records.stored.items()))
        yield f"the records and the journal differ in {[key for key, _ in odd]}"


def _chained(world: VirtualWorld, chain: list[bytes], results: list[StoredResult]) -> Iterator[str]:
    """Each result is in the chain once, in one unbroken chain, and so it is published and recorded."""
    said = [read_record(record) for record in chain]
    keys = [(one.inspection, one.revision) for one in said if isinstance(one, ChainResult)]
    if keys != [(result.inspection, result.revision) for result in results]:
        yield f"the chain holds {keys}"
    if any(one.later for one in said if isinstance(one, ChainResult)):
        yield "a result was taken up later than it was kept"
    if {one.key for one in said} != {world.key.public_key} or len({one.chain for one in said}) != 1:
        yield "the chain began anew"
    entries = [Entry(record) for record in chain]
    documents = {(one.inspection, one.revision): Document(one.document) for one in results}
    latest = read_checkpoint(world.broker.retained[world.topics.checkpoint])
    kept = Kept("journal", entries, documents, frozenset(documents))
    bay = world.topics.site, world.topics.bay
    verified = verify(bay, [kept], [read_checkpoint(one) for one in _checkpoints(world)])
    if verified.broken is not None:
        yield f"the chain is broken: {verified.broken.in_words()}"
    if latest.size != len(chain):
        yield f"the retained checkpoint is of {latest.size} records, and there are {len(chain)}"
    if sorted(world.records.chain) != sorted(chain):
        yield f"the records hold {len(world.records.chain)} of the chain's {len(chain)} records"
    published = [message.payload for message in world.broker.taken if message.topic == world.topics.chain]
    if list(dict.fromkeys(published)) != chain:
        yield "the chain was not published in its order"


def _checkpoints(world: VirtualWorld) -> list[bytes]:
    return [one.payload for one in world.broker.taken if one.topic == world.topics.checkpoint]


def _told_in_the_end(
    world: VirtualWorld, results: list[StoredResult], events: dict[str, list[Event]]
) -> Iterator[str]:
    """What a display finds when it comes afterwards."""
    retained, topics = world.broker.retained, world.topics
    online = [m.payload for m in world.broker.taken if m.topic == topics.status and b"online" in m.payload]
    if not online or json.loads(online[-1]).get("warnings"):
        yield f"the last status is not well: {online[-1:]}"
    if json.loads(retained[topics.status])["state"] != "offline":
        yield "the daemon left without a goodbye"
    latest = list(events)[-1] if events else ""
    of_it = [r.document for r in results if (r.inspection, r.revision) == (latest, _latest(results)[latest])]
    if latest and [retained.get(topics.result)] != of_it:
        yield f"the retained result is not the latest of {latest}"


def never_keep_over(plan: Plan, method: Method, results: Sequence[StoredResult]) -> Iterator[str]:
    """Never keep where a true figure of the damper is over its limit by more than the stated U.

    Thickness is graded in full in every seed, rim and face in those that are.
    """
    true_mm = {"thickness": plan.casing.spread_mm(method.thickness.order)}
    if plan.is_graded:
        true_mm |= {"rim": plan.damper.rim_tir_mm(), "face": plan.damper.face_tir_mm()}
    for stored in results:
        result: Result = decode(stored.document)
        checks = result.checks.by_name()
        for name, figure_mm in true_mm.items():
            check = checks.get(name)
            if result.verdict != "keep" or check is None:
                continue
            limit_mm, u_mm = getattr(check, "limit_mm", 0.0), getattr(check, "u_expanded_mm", 0.0) or 0.0
            if figure_mm > limit_mm + u_mm:
                yield f"keep, and the {name} is at {figure_mm:.4f} mm (U {u_mm:.4f} mm)"


def takes_of(state: InspectionState) -> list[Take]:
    """All sweeps that were finished."""
    return [take for take in state.finished if isinstance(take, Take)]
