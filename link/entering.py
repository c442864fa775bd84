"""Being let in by a broker: in MQTT 5, else in 3.1.1; and what to tell whoever is not.

MQTT 5 where the broker speaks it: only that shows whether a message came from someone who asked for it to be
retained.
"""

from __future__ import annotations

import asyncio
import ssl
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Protocol, TypeVar

from paho.mqtt.reasoncodes import ReasonCode

from link import limits
from link.address import BrokerAddress
from link.ended import out_of_date
from link.errors import CredentialRefusedError, LinkError
from link.probe import wrong_scheme
from link.tasks import end

# MQTT 5 and 3.1.1 codes for a user name or password that is not accepted.
_REFUSED = (4, 5, 134, 135)
_OTHER_PROTOCOL = (1, 132)
_OF_CERTIFICATES = (
    "wants a certificate of ours",
    "does not trust ours: is it out of date, or another authority's?",
)
"""What else may be wrong over TLS, where we show none and where we show one."""


class Door(Protocol):
    """A connection that is not there yet."""

    async def open(self) -> ReasonCode | None:
        """What the broker says to being asked in; None where it does not answer. OSError where nobody is
        there."""

    async def give_up(self) -> None:
        """Of one that never was: leave nothing behind."""

    async def close(self) -> None:
        """Say goodbye."""


D = TypeVar("D", bound=Door)


class _OtherProtocolError(LinkError):
    """The broker does not know this version of MQTT: some say so, some do not answer."""


class _Socket(ssl.SSLSocket):
    """Closes itself where the handshake fails: the library forgets it."""

    def do_handshake(self, block: bool = False) -> None:
        try:
            super().do_handshake(block)
        except OSError:
            self.close()
            raise


@asynccontextmanager
async def let_in(address: BrokerAddress, make: Callable[[int, ssl.SSLContext | None], D]) -> AsyncIterator[D]:
    """A connection, said goodbye to at the end. Raises LinkError where there is none to be had.

    make: one for a protocol, 5 or 4 (3.1.1), and TLS.
    """
    try:
        context = ssl.create_default_context(cafile=address.ca_file) if address.tls else None
    except (OSError, ssl.SSLError) as err:
        raise LinkError(f"{address.url}: certificate file {address.ca_file} cannot be used: {err}") from None
    if context is not None:
        _show(address, context)
        context.sslsocket_class = _Socket
    for protocol in (5, 4) if address.protocol == 5 else (4,):
        connection = make(protocol, context)
        try:
            await _enter(connection, address)
        except _OtherProtocolError:
            if protocol == 4:
                raise
        else:
            break
    try:
        yield connection
    finally:
        await connection.close()


def _show(address: BrokerAddress, context: ssl.SSLContext) -> None:
    """Our own certificate, where there is one."""
    if address.certificate is None:
        return
    try:
        context.load_cert_chain(address.certificate, address.key, password="")
    except (OSError, ssl.SSLError) as err:
        files = f"{address.certificate} and its key {address.key}"
        raise LinkError(f"{address.url}: certificate {files} cannot be used: {err}") from None


def _of_certificates(address: BrokerAddress) -> str:
    return out_of_date(address.certificate) or _OF_CERTIFICATES[address.certificate is not None]


async def _enter(connection: Door, address: BrokerAddress) -> None:
    """Connect; whatever happens, no socket is left behind."""
    opening = asyncio.ensure_future(connection.open())
    try:
        await asyncio.wait({opening}, timeout=limits.DOUBT_S)
        if not opening.done() and (why := await wrong_scheme(address.host, address.port, address.tls)):
            raise LinkError(f"{address.url} {why}")
        reason = await asyncio.shield(opening)
        if reason is None and (why := await wrong_scheme(address.host, address.port, address.tls)):
            raise LinkError(f"{address.url} {why}")
        if reason is None or reason.value in _OTHER_PROTOCOL:
            raise _OtherProtocolError(
                f"{address.url} lets nobody in: it does not answer, or drops this user name and password"
                + (f", or {_of_certificates(address)}" if address.tls else "")
            )
        if reason.value in _REFUSED:
            raise CredentialRefusedError(
                f"{address.url} refused user {address.username or '(none)'}: check the user name and password"
            )
        if reason.is_failure:
            raise LinkError(f"{address.url} cannot be reached: {reason}")
    except BaseException as error:
        await end(opening)
        await connection.give_up()
        if not isinstance(error, OSError):
            raise
        why = await wrong_scheme(address.host, address.port, address.tls) or f"cannot be reached: {error}"
        if (ended := out_of_date(address.certificate)) is not None:
            why = f"{why}; {ended}"
        raise LinkError(f"{address.url} {why}") from None
