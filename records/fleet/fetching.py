"""What a reader missed is fetched back from its bay: by the command `resend`, once in a while for each bay.

The chain tells what is missing: a record whose document never came, a place that none has, a result without a
record. One of the writers asks, whichever comes first: that it did stands in the database.
"""

from __future__ import annotations

import asyncio
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import structlog
from sqlalchemy import text

from contract.pauses import pause_s
from contract.topics import Topics
from contract.wire import encode, rfc3339
from records.fleet.arriving import Source
from records.fleet.database import Fleet
from records.fleet.held import take_in_turn

PATIENCE_S = 60.0
"""What is missing for less may be on its way: it goes to another writer, or is queued."""
PAUSE_FIRST_S, PAUSE_MAX_S = 600.0, 86_400.0
"""Between two asks of one bay: twice as long each time within a week."""
MARGIN_S = 60.0
"""Asked for from so much before what is missing: the time of a record is a little after its result's."""
DAYS, DAYS_MOST, MOST_EVERY = 1, 35, 500
"""What came within a day is looked at each time, and the longest at the start and every so many times: what
is missing for longer is not asked for any more; `--status` tells of it."""
OFF_S = 60.0
"""By more than this two clocks differ."""
OPERATOR = "ringtrue writer"


@dataclass(frozen=True, slots=True)
class Missing:
    """What lacks of one bay. since: RFC 3339: when the first of it was issued; empty: from the beginning."""

    site: str
    bay: str
    since: str
    why: str


class Fetching:
    """utc: the wall clock."""

    def __init__(
        self, fleet: Fleet, source: Source, utc: Callable[[], datetime] = lambda: datetime.now(UTC)
    ) -> None:
        self._fleet, self._source, self._utc = fleet, source, utc
        self._log = structlog.get_logger()
        self._looks = 0
        self._is_off = False

    async def look(self) -> None:
        """Ask the bays of which something is missing, and that nobody asked just now."""
        for missing in await asyncio.to_thread(self._due):
            topics = Topics(missing.site, missing.bay)
            named = {"bay": f"{missing.site}/{missing.bay}", "why": missing.why, "since": missing.since}
            request = {"id": f"writer-{uuid.uuid4().hex}", "operator": OPERATOR, "since": missing.since}
            if await self._source.ask(topics.command("resend"), encode(request)):
                self._log.warning("a bay is asked to send again what is missing here", **named)
            else:
                why = (
                    "something of a bay is missing here, and no way leads to it now: it is asked again later"
                )
                self._log.warning(f"{why}; or there: ringtrue send resend", **named)

    def _due(self) -> list[Missing]:
        """Of which we are the one to ask, from now on."""
        days = DAYS if self._looks % MOST_EVERY else DAYS_MOST
        with self._fleet.transaction() as connection:
            self._compare(connection.execute(_CLOCK).scalar_one())
            found = connection.execute(_MISSING, {"patience": PATIENCE_S, "days": days}).all()
        self._looks += 1
        due = []
        for site, bay, first, why in found:
            with self._fleet.transaction() as connection:
                take_in_turn(connection, [(site, bay)])
                asked = connection.execute(_ASKED, {"site": site, "bay": bay}).one()
                if asked.times and asked.ago_s < pause_s(asked.times - 1, PAUSE_FIRST_S, PAUSE_MAX_S):
                    continue
                one = Missing(site, bay, self._since(first), why)
                connection.execute(_ASK, {"site": site, "bay": bay, "since": one.since, "why": why})
                due.append(one)
        return due

    def _compare(self, servers: datetime) -> None:
        """Once for each time that the two clocks part: nothing is lost by it, but somebody should know."""
        off_s = (self._utc() - servers).total_seconds()
        if abs(off_s) > OFF_S and not self._is_off:
            self._log.warning(
                "this machine's clock and the database's are not the same: results are filed, those of a bay "
                "whose own clock is wrong perhaps under another month; set both by one clock",
                ahead_s=round(off_s),
            )
        self._is_off = abs(off_s) > OFF_S

    def _since(self, first: str | None) -> str:
        try:
            moment = datetime.fromisoformat(first or "")
            return rfc3339(moment - timedelta(seconds=MARGIN_S))
        except (ValueError, OverflowError):
            return rfc3339(datetime(2000, 1, 1, tzinfo=UTC))


_MISSING = text("""
    SELECT site, bay, min(first), string_agg(DISTINCT why, ', ' ORDER BY why) FROM (
        SELECT site, bay, time AS first, 'results whose record is here' AS why FROM fleet_missing
        WHERE stored < now() - make_interval(secs => :patience)
        AND stored > now() - make_interval(days => :days)
        UNION ALL
        SELECT t.site, t.bay, coalesce((
            SELECT c.time FROM fleet_chain AS c
            WHERE (c.site, c.bay, c.chain, c.place) = (t.site, t.bay, t.chain, w.size - 1)
        ), ''), 'records of its chain'
        FROM (
            SELECT site, bay, chain, max(size) AS size FROM fleet_checkpoints
            WHERE stored < now() - make_interval(secs => :patience)
            AND stored > now() - make_interval(days => :days)
            GROUP BY site, bay, chain
        ) AS t CROSS JOIN LATERAL (
            SELECT coalesce(max(size), 0) AS size FROM fleet_walked AS l
            WHERE (l.site, l.bay, l.chain) = (t.site, t.bay, t.chain)
        ) AS w
        WHERE t.size > w.size AND NOT EXISTS (
            SELECT FROM fleet_chain AS c
            WHERE (c.site, c.bay, c.chain, c.place) = (t.site, t.bay, t.chain, w.size)
        )
        UNION ALL
        SELECT u.site, u.bay, to_char(r.opened AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS"Z"'),
            'records of results that are here'
        FROM fleet_unproven AS u
        JOIN fleet_results AS r USING (site, bay, inspection, revision, month)
        WHERE u.stored < now() - make_interval(secs => :patience)
        AND u.stored > now() - make_interval(days => :days)
    ) AS missing GROUP BY site, bay ORDER BY site, bay
""")
_ASKED = text("""
    SELECT count(*) AS times, coalesce(extract(epoch FROM now() - max(asked)), 0)::float AS ago_s
    FROM fleet_asked WHERE (site, bay) = (:site, :bay) AND asked > now() - interval '7 days'
    AND asked <= now()  -- the server's clock may have been set back since
""")
_CLOCK = text("SELECT clock_timestamp()")
_ASK = text("INSERT INTO fleet_asked (site, bay, since, why) VALUES (:site, :bay, :since, :why)")
