"""Certificates made for one test."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

Issued = tuple[x509.Certificate, ec.EllipticCurvePrivateKey]


def certificate(name: str, issuer: Issued | None = None, *, has_ended: bool = False) -> Issued:
    """A certificate for 127.0.0.1, or an authority where nobody issues it; good for two days, or until an
    hour ago."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    now = datetime.now(UTC)
    authority, signing = issuer or (None, key)
    builder = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(authority.subject if authority else subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + (timedelta(hours=-1) if has_ended else timedelta(days=2)))
        .add_extension(x509.BasicConstraints(ca=issuer is None, path_length=None), critical=True)
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ip_address("127.0.0.1"))]), critical=False)
        # RFC 5280, 4.2.1.1 to 4.2.1.3; Python from 3.13 on refuses certificates without these.
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(signing.public_key()), critical=False
        )
    )
    if issuer is None:
        builder = builder.add_extension(
            x509.KeyUsage(
                key_cert_sign=True,
                crl_sign=True,
                digital_signature=False,
                content_commitment=False,
                key_encipherment=False,
                data_encipherment=False,
                key_agreement=False,
                encipher_only=False,
                decipher_only=False,
            ),
            critical=True,
        )
    return builder.sign(signing, hashes.SHA256()), key


def write_pem(folder: Path, name: str, made: Issued) -> None:
    (folder / f"{name}.crt").write_bytes(made[0].public_bytes(serialization.Encoding.PEM))
    (folder / f"{name}.key").write_bytes(
        made[1].private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
    )
