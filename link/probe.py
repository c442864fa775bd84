"""Whether a port that lets nobody in speaks TLS where plain MQTT was tried, or the other way round."""

from __future__ import annotations

import asyncio
import contextlib
import ssl

# Seconds that the far side has to answer; one that speaks what it is asked in does in milliseconds.
ANSWER_MAX_S = 1.0
# MQTT 3.1.1, 3.1: CONNECT, clean session, keep alive 5 s, no client id; 0x20 begins the answer, CONNACK,
# whether it lets us in or not.
_CONNECT = b"\x10\x0c\x00\x04MQTT\x04\x02\x00\x05\x00\x00"
_CONNACK = b"\x20"


async def wrong_scheme(host: str, port: int, tls: bool) -> str | None:
    """What to say of a URL where the port speaks TLS and we do not (tls: we do), or the other way round."""
    if tls and await speaks_plain(host, port):
        return "speaks plain MQTT, not TLS: write mqtt:// for mqtts://, or give the broker's port for TLS"
    if not tls and await speaks_tls(host, port):
        return "speaks TLS, not plain MQTT: write mqtts:// for mqtt://, and give ca_file if need be"
    return None


async def speaks_tls(host: str, port: int) -> bool:
    """Whether a TLS handshake is answered in TLS, be it with an alert."""
    context = ssl.create_default_context()
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    try:
        async with asyncio.timeout(ANSWER_MAX_S):
            _, writer = await asyncio.open_connection(host, port, ssl=context)
    except ssl.SSLError as error:
        return "ALERT" in (error.reason or "")
    except (OSError, TimeoutError):
        return False
    writer.transport.abort()
    return True


async def speaks_plain(host: str, port: int) -> bool:
    """Whether a plain MQTT CONNECT is answered by a CONNACK."""
    try:
        async with asyncio.timeout(ANSWER_MAX_S):
            reader, writer = await asyncio.open_connection(host, port)
            try:
                writer.write(_CONNECT)
                return await reader.read(1) == _CONNACK
            finally:
                with contextlib.suppress(OSError):
                    writer.transport.abort()
    except (OSError, TimeoutError):
        return False
