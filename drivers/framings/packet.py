"""The archetype of packets between marks (RFC 1055), as drivers.packets draws them.

Any byte may stand in one. Bytes that get lost make it shorter, a mark that gets lost makes two of them one:
whether it is of the right length, the value says. It may have a check within, with something behind it:

    C0   A5      01 00 BE  07   5D      00 00 00   C0      a sum over the data
    END  start   data           check   behind     END
"""

from __future__ import annotations

from config.profile import PacketFraming
from drivers.errors import EncodeError
from drivers.framings.checks import check_of
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
        self.marks_bytes = 2 * len(END) + framing.marks_bytes
        self._start = b"" if framing.start_byte is None else bytes([framing.start_byte])
        self._behind = framing.behind
        self._check = None if framing.check is None else check_of(framing.check)
        self._check_bytes = framing.marks_bytes - framing.behind - len(self._start)
        self._covered_from = 0 if framing.check and framing.check.covers == "frame" else len(self._start)

    def _begin_after_pause(self) -> None:
        """A packet begins with its mark, not after a pause."""

    def _cut(self, stream: bytes) -> list[bytes]:
        *whole, self._rest = stream.split(END)
        packets: list[bytes] = []
        for written in whole:
            if self._skipping:
                self._stray(len(written))
            elif written:
                data = None if self._is_too_long(written) else self._held(bare(written))
                if data is None:
                    self._throw(len(written))
                else:
                    packets.append(data)
            self._skipping = False
        if self._skipping or self._is_too_long(self._rest):
            self._stray(len(self._rest))
            self._rest = b""
        return packets

    def _held(self, packet: bytes | None) -> bytes | None:
        """The data of a packet; None where its check does not hold."""
        if packet is None or self._check is None:
            return packet
        end = len(packet) - self._behind
        begin, data_end = len(self._start), end - self._check_bytes
        holds = data_end > begin and packet.startswith(self._start)
        if not holds or self._check(packet[self._covered_from : data_end]) != packet[data_end:end]:
            return None
        return packet[begin:data_end]

    def _is_too_long(self, written: bytes) -> bool:
        """Of what has come of it so far; once it is, it stays so."""
        return len(written) - written.count(ESCAPE) > self._max_bytes or len(written) > 2 * self._max_bytes

    def wrap(self, data: bytes) -> bytes:
        """The packet of this data. Raises EncodeError where it would not be cut out again as it is."""
        most = self._max_bytes - len(self._start) - self._check_bytes - self._behind
        if not 0 < len(data) <= most:
            raise EncodeError(f"expected 1 to {most} bytes of data, got {data!r}")
        packet = self._start + data
        if self._check is not None:
            packet += self._check(packet[self._covered_from :]) + bytes(self._behind)
        return set_apart(packet)
