"""A digital signature over a whole PDF (PAdES B-B, ETSI EN 319 142-1), with the workshop's own key: the seal.

It shows that no byte was changed since, and whose key it was; who decided and signed the inspection stands in
the document. RSA only: with other keys the file would have to be PDF 2.0, which PDF/A-3 is not.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from records.errors import NotInstalledError, ReportError

if TYPE_CHECKING:
    from cryptography.x509 import Certificate
    from pyhanko.sign.signers import SimpleSigner

RSA_BITS_LEAST = 2048
"""The least that is still called sound until 2030 (NIST SP 800-131A); make new ones of 3072."""
FIELD = "Seal"


class Seal:
    """A key with its certificate, and those that vouch for it."""

    def __init__(self, signer: SimpleSigner, owner: str) -> None:
        self._signer = signer
        self.owner = owner

    def put_on(self, pdf: bytes, reason: str, place: str) -> bytes:
        """The PDF with the signature appended: its pages and attachment as they were."""
        from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
        from pyhanko.sign.fields import SigSeedSubFilter
        from pyhanko.sign.signers import PdfSignatureMetadata, PdfSigner

        class Writer(IncrementalPdfFileWriter):
            """Stays the version that PDF/A-3 asks for."""

            output_version = (1, 7)

        metadata = PdfSignatureMetadata(
            field_name=FIELD, md_algorithm="sha256", subfilter=SigSeedSubFilter.PADES,
            name=self.owner, reason=reason, location=place,
        )  # fmt: skip
        out = io.BytesIO()
        PdfSigner(metadata, signer=self._signer).sign_pdf(Writer(io.BytesIO(pdf)), output=out)
        return out.getvalue()


def read_seal(file: Path, passphrase: bytes | None) -> Seal:
    """The key in a PKCS#12 or PEM file. Raises ReportError where there is none that will do, or OSError."""
    try:
        from cryptography.hazmat.primitives.asymmetric.rsa import RSAPrivateKey
        from cryptography.hazmat.primitives.serialization import NoEncryption, pkcs12
        from cryptography.x509.oid import NameOID
        from pyhanko.sign.signers import SimpleSigner
    except ModuleNotFoundError as error:
        raise NotInstalledError((error.name or "pyhanko").partition(".")[0]) from None
    key, certificate, others = _read(file, passphrase)
    if not isinstance(key, RSAPrivateKey):
        raise ReportError(f"{file}: not an RSA key, and no other fits PDF/A-3: make one of 3072 bits")
    if key.key_size < RSA_BITS_LEAST:
        raise ReportError(
            f"{file}: a key of {key.key_size} bits, at least {RSA_BITS_LEAST} are needed: make one of 3072"
        )
    now = datetime.now(UTC)
    if not certificate.not_valid_before_utc <= now <= certificate.not_valid_after_utc:
        since, until = certificate.not_valid_before_utc, certificate.not_valid_after_utc
        raise ReportError(f"{file}: the certificate is valid from {since:%Y-%m-%d} to {until:%Y-%m-%d} only")
    names = certificate.subject.get_attributes_for_oid(NameOID.COMMON_NAME)
    owner = str(names[0].value) if names else certificate.subject.rfc4514_string()
    bundle = pkcs12.serialize_key_and_certificates(None, key, certificate, others, NoEncryption())
    signer = SimpleSigner.load_pkcs12_data(bundle, other_certs=[])
    if signer is None:
        raise ReportError(f"{file}: the key cannot be used: expected an RSA key with its X.509 certificate")
    return Seal(signer, owner)


def _read(file: Path, passphrase: bytes | None) -> tuple[object, Certificate, Sequence[Certificate]]:
    from cryptography.hazmat.primitives.serialization import load_pem_private_key, pkcs12
    from cryptography.x509 import load_pem_x509_certificates

    data = file.read_bytes()
    try:
        if b"-----BEGIN " not in data:
            found, certificate, others = pkcs12.load_key_and_certificates(data, passphrase)
            if found is None or certificate is None:
                raise ReportError(f"{file}: holds no key with its certificate")
            return found, certificate, others
        is_locked = b"ENCRYPTED" in data
        if is_locked and passphrase is None:
            raise ReportError(f"{file}: the key is locked: give --passphrase-file, or the environment's")
        key = load_pem_private_key(data, passphrase if is_locked else None)
        return _of_key(file, key, load_pem_x509_certificates(data))
    except (ValueError, TypeError):
        hint = "is the passphrase right?" if passphrase is not None else "is there a passphrase to be given?"
        raise ReportError(
            f"{file}: opens neither as PKCS#12 nor as PEM of a private key and its certificate; {hint}"
        ) from None


def _of_key(
    file: Path, key: object, certificates: Sequence[Certificate]
) -> tuple[object, Certificate, Sequence[Certificate]]:
    """The certificate of this key, wherever in the file it stands, and the others."""
    public = key.public_key()  # type: ignore[attr-defined]  # the kind of key was looked at above
    for certificate in certificates:
        if certificate.public_key() == public:
            return key, certificate, [other for other in certificates if other is not certificate]
    raise ReportError(f"{file}: holds no certificate of its key")
