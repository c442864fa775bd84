"""Methods are handed out while all goes wrong: none changes within an inspection, none old or forged is ever
graded by."""

from __future__ import annotations

import json
from contextlib import closing
from pathlib import Path

import pytest

from acquire.journal.events import Opened
from acquire.journal.reader import JournalReader
from acquire.methods import read_kept
from contract.document import decode
from tests.virtual.invariants import findings
from tests.virtual.judging import judged_once
from tests.virtual.office import ISSUES, OFFICE, OfficeWorld
from tests.virtual.people import People
from tests.virtual.plan import plan_of
from tests.virtual.running import Files, log_heard, tell

HEAVY = [pytest.param(range(n, n + 15), marks=pytest.mark.heavy) for n in range(8, 158, 15)]
SEEDS = [pytest.param(range(1, 8)), *HEAVY]
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Files:
    return Files(tmp_path_factory.mktemp("files"))


@pytest.mark.parametrize("seeds", SEEDS)
def test_an_inspection_ends_by_the_method_that_it_was_opened_with(
    seeds: range, files: Files, tmp_path: Path
) -> None:
    opened_with: set[int] = set()
    for seed in seeds:
        folder = tmp_path / str(seed)
        folder.mkdir()
        plan = plan_of(seed)
        world = OfficeWorld(plan, files.of(plan), folder)
        people = People(world)
        try:
            with log_heard(world), judged_once(fully=plan.is_graded):
                assert world.loop.run_until_complete(tell(world, people)), seed
                assert findings(world, people) == [], seed
        finally:
            world.loop.close()
        opened_with |= _looked_at(world, seed)
    assert len(opened_with) > 1  # else nothing was tried


def _looked_at(world: OfficeWorld, seed: int) -> set[int]:
    """The places, among the methods, of those that inspections were opened with."""
    known = {method.sha256(): n for n, method in enumerate(world.methods)}
    with closing(JournalReader(world.path)) as reader:
        begun = [one for name in reader.inspections() for one in reader.read(name) if isinstance(one, Opened)]
        results = [decode(stored.document) for stored in reader.results()]
    begun.sort(key=lambda one: one.seq)
    order = [known[one.method_sha256] for one in begun]  # KeyError: a method that nobody handed out
    assert order == sorted(order), (seed, "an older one came back")
    own = {one.inspection: one.method_sha256 for one in begun}
    assert all(result.method.sha256 == own[result.inspection] for result in results), seed
    kept = read_kept(world.path.with_suffix(".method"), OFFICE.public_key, world.topics.site, 1)
    assert kept is not None
    assert kept[0].method == world.methods[ISSUES], seed
    said = json.loads(world.broker.retained[world.topics.method])
    latest = said.get("waiting", said["in_force"])
    assert latest["sha256"] == world.methods[ISSUES].sha256(), seed
    assert latest["number"] == ISSUES + 1
    return set(order)
