import ipaddress
from datetime import UTC, datetime, timedelta
from stat import S_IMODE

import pytest
from cryptography import x509

from provider.config.certificate import home_certificate

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)
NAMES = ["192.0.2.7", "playroom", "localhost", "127.0.0.1"]


def read(made):
    return x509.load_pem_x509_certificate(made.certificate.read_bytes())


def test_it_vouches_for_every_name_and_address(tmp_path):
    made = home_certificate(tmp_path / "tls", NAMES, now=NOW)
    names = read(made).extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert names.get_values_for_type(x509.DNSName) == ["playroom", "localhost"]
    assert names.get_values_for_type(x509.IPAddress) == [
        ipaddress.ip_address("192.0.2.7"),
        ipaddress.ip_address("127.0.0.1"),
    ]


def test_it_keeps_the_key_for_its_owner_alone(tmp_path):
    made = home_certificate(tmp_path / "tls", NAMES, now=NOW)
    assert S_IMODE(made.key.stat().st_mode) == 0o600
    assert S_IMODE(made.key.parent.stat().st_mode) == 0o700


def test_it_lasts_no_longer_than_phones_accept(tmp_path):
    certificate = read(home_certificate(tmp_path, NAMES, now=NOW))
    assert certificate.not_valid_before_utc < NOW
    assert certificate.not_valid_after_utc - certificate.not_valid_before_utc <= timedelta(days=398)


def test_it_shows_the_fingerprint_as_browsers_do(tmp_path):
    fingerprint = home_certificate(tmp_path, NAMES, now=NOW).fingerprint
    assert len(fingerprint.split(":")) == 32
    assert fingerprint == fingerprint.upper()


@pytest.mark.parametrize(
    ("names", "days"), [(NAMES, 0), (NAMES[:2], 0), (NAMES, 366)], ids=["unchanged", "fewer names", "31 days left"]
)
def test_it_keeps_a_certificate_that_still_serves(tmp_path, names, days):
    first = home_certificate(tmp_path, NAMES, now=NOW)
    assert home_certificate(tmp_path, names, now=NOW + timedelta(days=days)) == first


@pytest.mark.parametrize(
    ("names", "days"), [(["192.0.2.8", *NAMES], 0), (NAMES, 368)], ids=["new address", "29 days left"]
)
def test_it_makes_a_new_certificate_when_the_old_one_does_not_serve(tmp_path, names, days):
    first = home_certificate(tmp_path, NAMES, now=NOW)
    assert home_certificate(tmp_path, names, now=NOW + timedelta(days=days)).fingerprint != first.fingerprint


@pytest.mark.parametrize("spoil", ["certificate.pem", "key.pem"])
def test_it_makes_a_new_certificate_when_a_file_is_missing(tmp_path, spoil):
    first = home_certificate(tmp_path, NAMES, now=NOW)
    (tmp_path / spoil).unlink()
    assert home_certificate(tmp_path, NAMES, now=NOW).fingerprint != first.fingerprint


def test_it_makes_a_new_certificate_when_the_old_one_is_unreadable(tmp_path):
    home_certificate(tmp_path, NAMES, now=NOW).certificate.write_text("not a certificate")
    assert read(home_certificate(tmp_path, NAMES, now=NOW)).not_valid_after_utc > NOW
