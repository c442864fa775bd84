"""What is amiss with a gauge that sends, and gives no readings, as a person can act upon it. Pure."""

from __future__ import annotations

from typing import Literal, Protocol

from config.profile import MIRRORED, GaugeProfile, PortSettings, Says, SerialPort, WireUnit
from contract.words import count_of
from drivers.values.base import WHOLE

# Bytes from which anything is told, and the share of them that must fit what is told.
LEAST_BYTES, MOST = 12, 0.9
# The share of wrong bytes that no good line has.
WRONG = 0.1
# What is shown of what came, and how much of it is kept to tell why.
SHOWN, RECENT_BYTES = 24, 96
# Frames in a row that are no readings until that is said; of a gauge whose key is pressed each is meant.
STRANGE_FRAMES = 5

SAID: dict[Says, str] = {
    "battery-low": "it says that its battery is low: change it",
    "error": "it says that it is in error: see what its display shows",
    "off-scale": "it says that it is off its scale: bring its plunger back into its travel",
    "hold": "it holds its display, which stands still: take its hold off",
}
"""What a gauge says of itself, and what to do."""

_MIRROR = bytes(MIRRORED[byte & 15] << 4 | MIRRORED[byte >> 4] for byte in range(256))
_LOW = bytes(byte & 0x7F for byte in range(256))


class Assembled(Protocol):
    """What an assembler says of what came, as its own fields have it."""

    bytes_wrong: int
    strange: int
    says: Says | None
    last_rejected: bytes | None

    @property
    def bytes_in(self) -> int: ...

    @property
    def beside(self) -> Says | None: ...

    @property
    def shows(self) -> WireUnit | None: ...

    @property
    def switched(self) -> tuple[int, int] | None: ...

    @property
    def switched_by_step(self) -> bool: ...


class Doubts:
    """Of one gauge, from what came since its last reading."""

    def __init__(self, profile: GaugeProfile, assembler: Assembled) -> None:
        self._profile = profile
        self._assembler = assembler
        self._enough = 1 if profile.manner.by_hand else STRANGE_FRAMES
        self.begin()

    def begin(self) -> None:
        """A reading was heard, or the port opened."""
        self._bytes, self._wrong = self._assembler.bytes_in, self._assembler.bytes_wrong
        self._recent = b""
        self._said: Says | Literal["nothing"] | None = "nothing"
        self._was_quiet = False

    def warning(self) -> str:
        """What is to be seen to although it gives readings; empty where nothing is."""
        says, shows = self._assembler.beside, self._assembler.shows
        if says is None and shows is None:
            return ""
        said, unit = [] if says is None else [SAID[says]], self._profile.value.unit
        if shows not in (None, unit):
            said.append(f"it shows {shows} now, which its profile has as {unit}: its step is another")
        return "; ".join(said)

    def are_new(self, data: bytes) -> bool:
        """Whether, with these bytes, which gave no reading, there is something that was not said yet."""
        self._recent = (self._recent + data)[-RECENT_BYTES:]
        if self._was_quiet and len(self._recent) >= RECENT_BYTES:
            # It was said that nothing came: it does now, and has no frames in it.
            self._was_quiet = False
            return True
        if self._assembler.strange < self._enough or self._assembler.says == self._said:
            return False
        self._said = self._assembler.says
        return True

    def why(self, name: str, since: str = "") -> str:
        """Why there is no reading. name: of its port. since: `for 3 s`; left out: as many frames."""
        assembler = self._assembler
        if assembler.switched is not None:
            before, after = (_shown(number, self._profile.value.unit) for number in assembler.switched)
            what = f"its number leapt from {before} to {after}"
            if assembler.switched_by_step:
                what = f"its numbers go by another step than before, from {before} on"
            return (
                f"{name}: {what}, as when its unit is switched: switch it "
                "back; if it was not switched, turn it off and on, or unplug it and plug it in again"
            )
        heard = (assembler.last_rejected or b"")[:SHOWN]
        if assembler.strange and assembler.says is not None:
            return f"{name}: {SAID[assembler.says]} ({heard!r})"
        came, wrong = assembler.bytes_in - self._bytes, assembler.bytes_wrong - self._wrong
        self._was_quiet = not came and not wrong
        if self._was_quiet:
            return f"nothing came on {name} {since}: switch the gauge on and check its cable"
        frames = count_of(assembler.strange, "frame") if assembler.strange else "them"
        since = since or f"in {frames}"
        such = f", such as {heard!r}" if heard else ""
        advice = garbled(self._recent, wrong, self._profile.port)
        return (
            f"{came} bytes came on {name} but no reading {since}{such}: "
            f"{f'garbled: {advice}; ' if advice else ''}"
            f"check that profile {self._profile.id} suits the gauge, its baud rate first"
        )


def _shown(value: int, unit: WireUnit) -> str:
    """A number as its gauge shows it, with the unit of its profile. value: in the whole unit."""
    return f"{value / WHOLE[unit][1]:g} {unit}"


def garbled(came: bytes, wrong: int, port: PortSettings) -> str | None:
    """What may be wrong with how the port is set. came: some of what came last; wrong: how many bytes beside
    them came with a wrong parity or stop bit. None where nothing tells."""
    if not isinstance(port, SerialPort):
        return None
    told = wrong + len(came)
    if told < LEAST_BYTES:
        return None
    if wrong > WRONG * told:
        return (
            f"{wrong} of {told} bytes came with a wrong parity or stop bit: check baud, bytesize and parity"
        )
    if _is_text(came):
        return None
    if port.bytesize == 8 and port.parity == "none" and _is_text(came.translate(_LOW)):
        ones = sum(byte.bit_count() % 2 for byte in came) / len(came)
        parity = "even" if ones <= 1 - MOST else "odd" if ones >= MOST else None
        if parity is not None:
            return f'the eighth bit of each byte is a parity: set bytesize = 7 and parity = "{parity}"'
    if _is_text(came.translate(_MIRROR)):
        return "the bits of each byte come in the other order: set its converter to lowest bit first"
    return f"check its speed first: is it {port.baud} baud, as the profile says?"


def _is_text(data: bytes) -> bool:
    return sum(0x20 <= byte < 0x7F or byte in b"\r\n\x02\x03" for byte in data) >= MOST * len(data)
