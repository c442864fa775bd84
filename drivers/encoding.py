"""Values to frames, as a gauge of a profile would send them."""

from __future__ import annotations

from config.profile import GaugeProfile
from drivers.errors import EncodeError
from drivers.framings import framer
from drivers.values import codec


class Encoder:
    """Of one profile; made once, used for many values."""

    def __init__(self, profile: GaugeProfile) -> None:
        self._id = profile.id
        self._codec = codec(profile.value, profile.id)
        self._write = self._codec.write
        self._wrap = framer(profile.framing).wrap

    def frame(self, value: int) -> bytes:
        """The frame, with all that marks it, in which the gauge shows `value`.

        value: whole nanometres, microdegrees or counts; rounded, ties to even, to what the frame can
        show. Raises EncodeError where it does not fit.
        """
        try:
            return self._wrap(self._write(value))
        except EncodeError as error:
            text = f"{self._id}: value {value} {self._codec.unit} does not fit a frame: {error}"
            raise EncodeError(text) from None


def encode(value: int, profile: GaugeProfile) -> bytes:
    """One frame, as `Encoder.frame`."""
    return Encoder(profile).frame(value)
