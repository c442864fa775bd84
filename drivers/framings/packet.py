"""The archetype of packets between marks (RFC 1055), as drivers.packets draws them.

Any byte may stand in one. Bytes that get lost make it shorter, a mark that gets lost makes two of them one:
whether it is of the right length, the value says.
"""

from __future__ import annotations

from config.profile import PacketFraming
from drivers.errors import EncodeError
from drivers.framings.counting import CountingFramer
from drivers.packets import END, ESCAPE, bare, set_apart


class PacketFramer(CountingFramer):
    """Cuts a stream of bytes into packets; of nothing between two marks it makes none.

    One that is too long, or written as none can be, is thrown away. hunting: the stream may begin within a
    packet; all before the first mark is then thrown away, uncounted as a loss.
    """

    def __init__(self, framing: PacketFraming, *, hunting: bool = False) -> None:
        super().__init__(framing.max_pause_s, hunting=hunting)
        self._max_bytes = framing.max_bytes
        self.marks_bytes = 2 * len(END)

    def _begin_after_pause(self) -> None:
        """A packet begins with its mark, not after a pause."""

    def _cut(self, stream: bytes) -> list[bytes]:
        *whole, self._rest = stream.split(END)
        packets: list[bytes] = []
        for written in whole:
            if self._skipping:
                self._stray(len(written))
            elif written:
                data = None if self._is_too_long(written) else bare(written)
                if data is None:
                    self._throw(len(written))
                else:
                    packets.append(data)
            self._skipping = False
        if self._skipping or self._is_too_long(self._rest):
            self._stray(len(self._rest))
            self._rest = b""
        return packets

    def _is_too_long(self, written: bytes) -> bool:
        """Of what has come of it so far; once it is, it stays so."""
        return len(written) - written.count(ESCAPE) > self._max_bytes or len(written) > 2 * self._max_bytes

    def wrap(self, data: bytes) -> bytes:
        """The packet of this data. Raises EncodeError where it would not be cut out again as it is."""
        if not 0 < len(data) <= self._max_bytes:
            raise EncodeError(f"expected 1 to {self._max_bytes} bytes of data, got {data!r}")
        return set_apart(data)
