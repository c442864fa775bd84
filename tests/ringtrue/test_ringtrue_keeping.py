"""The daemon's records: what they will never take is said as that."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

import pytest

from acquire.errors import NotTakenError
from ringtrue.keeping import RecordsKeeper
from tests.chain.chained_bay import document


async def test_a_result_whose_place_another_has_is_never_taken(tmp_path: Path) -> None:
    with closing(RecordsKeeper(f"sqlite:///{tmp_path}/records.db")) as keeper:
        await keeper.deliver(document("i-1"))
        await keeper.deliver(document("i-1"))  # the same one twice is one
        with pytest.raises(NotTakenError, match="i-1 revision 1 is stored already with other content"):
            await keeper.deliver(document("i-1", verdict="replace"))
        with pytest.raises(NotTakenError, match="not a result document"):
            await keeper.deliver(b"{}")
        with pytest.raises(NotTakenError, match="not a record of a chain"):
            await keeper.deliver_chain(b"{}")
