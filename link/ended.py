"""Why nobody lets us in: our own certificate may be out of date, which brokers seldom tell, or in riddles."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path


def out_of_date(certificate: Path | None) -> str | None:
    """What to do about a certificate (PEM) that is not good now, by this machine's clock; None where it is,
    or cannot be read."""
    if certificate is None:
        return None
    from cryptography.x509 import load_pem_x509_certificate  # for whoever is not let in alone

    try:
        ours = load_pem_x509_certificate(certificate.read_bytes())
    except (OSError, ValueError):
        return None
    now = datetime.now(UTC)
    if now > ours.not_valid_after_utc:
        ended = f"{ours.not_valid_after_utc:%Y-%m-%d %H:%M} UTC"
        return f"certificate {certificate} ended {ended}: put a new one there"
    if now < ours.not_valid_before_utc:
        begins = f"{ours.not_valid_before_utc:%Y-%m-%d %H:%M} UTC"
        return (
            f"certificate {certificate} begins {begins}, and here it is {now:%Y-%m-%d %H:%M}: set the clock"
        )
    return None
