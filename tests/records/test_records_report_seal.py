"""The seal, judged by poppler's pdfsig and openssl's files: whole, of whom, and broken by any change."""

from __future__ import annotations

import re
import subprocess
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, ed25519, rsa
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    KeySerializationEncryption,
    NoEncryption,
    PrivateFormat,
    pkcs12,
)
from cryptography.x509.oid import NameOID

from contract.lengths import UNITS
from records.errors import ReportError
from records.report.content import Source, compose
from records.report.pdf import as_pdf
from records.report.seal import read_seal
from tests.records.reported import a_document

pytestmark = pytest.mark.slow

Key = rsa.RSAPrivateKey | ec.EllipticCurvePrivateKey | ed25519.Ed25519PrivateKey
PASSPHRASE = "größe 7".encode()


@dataclass(frozen=True)
class Workshop:
    """An authority, and a bay's key that it vouches for."""

    ca: x509.Certificate
    key: rsa.RSAPrivateKey
    certificate: x509.Certificate

    def write(self, file: Path, passphrase: bytes | None = PASSPHRASE) -> Path:
        lock: KeySerializationEncryption = NoEncryption()
        if passphrase is not None:
            lock = BestAvailableEncryption(passphrase)
        if file.suffix == ".p12":
            file.write_bytes(
                pkcs12.serialize_key_and_certificates(b"bay-2", self.key, self.certificate, [self.ca], lock)
            )
        else:
            private = self.key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, lock)
            certificates = [one.public_bytes(Encoding.PEM) for one in (self.ca, self.certificate)]
            file.write_bytes(b"".join([*certificates, private]))
        return file


def certificate(name: str, key: Key, by: rsa.RSAPrivateKey | None = None, days: int = 30) -> x509.Certificate:
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    issuer = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Greywacke workshop CA")])
    start = datetime.now(UTC) - timedelta(days=40)
    builder = (
        x509.CertificateBuilder().subject_name(subject).issuer_name(issuer).public_key(key.public_key())
        .serial_number(x509.random_serial_number()).not_valid_before(start)
        .not_valid_after(start + timedelta(days=40 + days))
        .add_extension(x509.BasicConstraints(ca=by is None, path_length=None), critical=True)
    )  # fmt: skip
    signer = by or key
    return builder.sign(signer, None if isinstance(signer, ed25519.Ed25519PrivateKey) else hashes.SHA256())


@pytest.fixture(scope="module")
def workshop() -> Workshop:
    ca, bay = (rsa.generate_private_key(public_exponent=65537, key_size=3072) for _ in range(2))
    return Workshop(certificate("Greywacke workshop CA", ca), bay, certificate("Greywacke bay-2", bay, ca))


@pytest.fixture(scope="module")
def plain() -> bytes:
    return as_pdf(compose(Source(a_document()), UNITS["mm"]))


@pytest.fixture(scope="module")
def sealed(workshop: Workshop, plain: bytes, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    file = workshop.write(tmp_path_factory.mktemp("key") / "bay-2.p12")
    return read_seal(file, PASSPHRASE).put_on(plain, "Report", "greywacke, bay-2")


def judged(pdf: bytes, folder: Path) -> str:
    file = folder / "judged.pdf"
    file.write_bytes(pdf)
    return subprocess.run(["pdfsig", str(file)], check=False, capture_output=True, text=True).stdout


def told(*command: object) -> str:
    return subprocess.run([*map(str, command)], check=True, capture_output=True, text=True).stdout


def test_it_is_valid_and_names_the_bay(sealed: bytes, tmp_path: Path) -> None:
    said = judged(sealed, tmp_path)
    for line in (
        "Signature Validation: Signature is Valid.",
        "Total document signed",
        "Signer Certificate Common Name: Greywacke bay-2",
        "Signing Hash Algorithm: SHA-256",
        "Signature Type: ETSI.CAdES.detached",
    ):
        assert line in said


def test_the_report_under_it_is_what_it_was(plain: bytes, sealed: bytes, tmp_path: Path) -> None:
    assert sealed.startswith(plain)
    file = tmp_path / "sealed.pdf"
    file.write_bytes(sealed)
    info = told("pdfinfo", file)
    assert re.search(r"PDF version: +1\.7", info)
    assert re.search(r"Tagged: +yes", info)
    assert 'pdfaid:part="3"' in told("pdfinfo", "-meta", file)
    told("pdfdetach", "-save", 1, "-o", tmp_path / "out.json", file)
    assert (tmp_path / "out.json").read_bytes() == a_document()
    (tmp_path / "plain.pdf").write_bytes(plain)
    assert told("pdftotext", file, "-") == told("pdftotext", tmp_path / "plain.pdf", "-")


def test_any_change_breaks_it(sealed: bytes, tmp_path: Path) -> None:
    place = sealed.index(b"/Title")
    changed = sealed[: place + 1] + b"t" + sealed[place + 2 :]
    assert "Signature is Valid" not in judged(changed, tmp_path)
    assert "Digest Mismatch" in judged(changed, tmp_path)
    assert "Not total document signed" in judged(sealed + b"\n% more\n", tmp_path)


def test_the_workshop_s_authority_is_in_it(sealed: bytes, workshop: Workshop) -> None:
    """So that a reader who trusts it needs nothing else."""
    (contents,) = re.findall(rb"/Contents ?<([0-9a-fA-F]+)>", sealed)
    assert workshop.ca.public_bytes(Encoding.DER).hex().encode() in contents.lower()


@pytest.mark.parametrize(("name", "passphrase"), [("k.pem", PASSPHRASE), ("k.pem", None), ("k.p12", None)])
def test_a_key_may_be_pem_or_not_locked(
    workshop: Workshop, plain: bytes, tmp_path: Path, name: str, passphrase: bytes | None
) -> None:
    seal = read_seal(workshop.write(tmp_path / name, passphrase), passphrase)
    assert seal.owner == "Greywacke bay-2"
    assert "Signature is Valid" in judged(seal.put_on(plain, "Report", "here"), tmp_path)


@pytest.mark.parametrize("name", ["k.pem", "k.p12"])
@pytest.mark.parametrize(
    ("passphrase", "said"), [(b"wrong", "is the passphrase right"), (None, "--passphrase-file|to be given")]
)
def test_a_passphrase_that_does_not_open_it_is_said(
    workshop: Workshop, tmp_path: Path, name: str, passphrase: bytes | None, said: str
) -> None:
    with pytest.raises(ReportError, match=said) as refused:
        read_seal(workshop.write(tmp_path / name), passphrase)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    "content", [b"", b"rubbish", b"-----BEGIN CERTIFICATE-----\nrubbish\n", b"\xff" * 40]
)
def test_what_is_no_key_is_refused_in_one_line(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "k").write_bytes(content)
    with pytest.raises(ReportError, match="neither as PKCS#12 nor as PEM") as refused:
        read_seal(tmp_path / "k", None)
    assert "\n" not in str(refused.value)


def weak(kind: str) -> Key:
    if kind == "short":
        return rsa.generate_private_key(public_exponent=65537, key_size=1024)
    return (
        ec.generate_private_key(ec.SECP256R1()) if kind == "curve" else ed25519.Ed25519PrivateKey.generate()
    )


@pytest.mark.parametrize(
    ("kind", "said"), [("short", "1024 bits"), ("curve", "not an RSA key"), ("edwards", "not an RSA key")]
)
def test_a_key_that_would_break_the_format_or_is_weak_is_refused(
    kind: str, said: str, tmp_path: Path
) -> None:
    key = weak(kind)
    bundle = pkcs12.serialize_key_and_certificates(None, key, certificate("x", key), None, NoEncryption())
    (tmp_path / "k.p12").write_bytes(bundle)
    with pytest.raises(ReportError, match=said):
        read_seal(tmp_path / "k.p12", None)


def test_a_certificate_that_has_run_out_seals_nothing(workshop: Workshop, tmp_path: Path) -> None:
    old = certificate("old", workshop.key, workshop.key, days=-1)
    file = Workshop(workshop.ca, workshop.key, old).write(tmp_path / "k.p12", None)
    with pytest.raises(ReportError, match=r"the certificate is valid from .* only"):
        read_seal(file, None)


def test_a_key_without_its_certificate_is_refused(workshop: Workshop, tmp_path: Path) -> None:
    file = Workshop(workshop.ca, workshop.key, workshop.ca).write(tmp_path / "k.pem", None)
    with pytest.raises(ReportError, match="holds no certificate of its key"):
        read_seal(file, None)
