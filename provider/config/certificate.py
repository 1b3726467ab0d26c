"""The self-signed certificate of `start --lan`, made on first start and kept beside the data."""

import ipaddress
import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

LIFETIME = timedelta(days=397)  # phones refuse server certificates that last longer than about 13 months
RENEW_BEFORE = timedelta(days=30)


@dataclass(frozen=True)
class Certificate:
    """Two PEM files and what a person compares on the phone."""

    certificate: Path
    key: Path
    fingerprint: str  # SHA-256, pairs of hexadecimal digits joined by colons


def home_certificate(directory: Path, names: Sequence[str], *, now: datetime) -> Certificate:
    """The certificate in `directory` for `names` (host names and IP addresses), made anew when it does not serve.

    It does not serve when it is missing, unreadable, lacks one of the names, or ends within 30 days of `now` (aware).
    """
    directory.mkdir(mode=0o700, parents=True, exist_ok=True)
    certificate_file, key_file = directory / "certificate.pem", directory / "key.pem"
    certificate = _stored(certificate_file) if key_file.exists() else None
    if (
        certificate is None
        or certificate.not_valid_after_utc - now < RENEW_BEFORE
        or not set(map(_general_name, names)) <= set(_names(certificate))
    ):
        certificate = _make(certificate_file, key_file, names, now)
    return Certificate(certificate_file, key_file, certificate.fingerprint(hashes.SHA256()).hex(":").upper())


def _stored(path: Path) -> x509.Certificate | None:
    try:
        return x509.load_pem_x509_certificate(path.read_bytes())
    except (FileNotFoundError, ValueError):
        return None


def _names(certificate: x509.Certificate) -> x509.SubjectAlternativeName:
    return certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value


def _general_name(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _make(certificate_file: Path, key_file: Path, names: Sequence[str], now: datetime) -> x509.Certificate:
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, names[0])])
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))  # a tablet's clock may be a little behind
        .not_valid_after(now + LIFETIME)
        .add_extension(x509.SubjectAlternativeName(list(map(_general_name, names))), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write(
        key_file,
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()),
    )
    _write(certificate_file, certificate.public_bytes(serialization.Encoding.PEM))
    return certificate


def _write(path: Path, content: bytes) -> None:
    """Replace the file, readable by its owner alone from the first byte."""
    draft = path.with_suffix(".new")
    draft.unlink(missing_ok=True)
    with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(content)
    draft.replace(path)
