"""How a tablet on the home network reaches the lab."""

import os
import ssl
import stat
import sys
from datetime import timedelta
from pathlib import Path

import pytest

from labkit.errors import LabError
from labkit.lab import server, tablet
from labkit.lab.reach import Reach


@pytest.mark.parametrize("found", ["127.0.0.1", "8.8.8.8"])
def test_only_an_address_of_a_private_network_is_used(found):
    with pytest.raises(LabError, match="no address on a home network"):
        tablet.private_address(found)


def test_the_certificate_is_for_the_address_and_kept(tmp_path: Path):
    made = tablet.certificate_file(tmp_path / "kept", "192.168.1.20")
    names = ssl._ssl._test_decode_cert(str(made))["subjectAltName"]
    assert names == (("IP Address", "192.168.1.20"),)
    before = made.read_bytes()
    assert tablet.certificate_file(tmp_path / "kept", "192.168.1.20").read_bytes() == before
    if os.name == "posix":
        assert stat.S_IMODE(made.stat().st_mode) == 0o600


def test_another_address_or_an_old_certificate_is_made_anew(tmp_path: Path, monkeypatch):
    first = tablet.certificate_file(tmp_path, "192.168.1.20").read_bytes()
    second = tablet.certificate_file(tmp_path, "192.168.1.21").read_bytes()
    assert first != second

    monkeypatch.setattr(tablet, "LASTS", timedelta(minutes=1))
    assert tablet.certificate_file(tmp_path, "192.168.1.21").read_bytes() == second
    short = tablet.certificate_file(tmp_path, "192.168.1.20").read_bytes()
    assert tablet.certificate_file(tmp_path, "192.168.1.20").read_bytes() != short


def test_a_code_is_new_each_time_and_long():
    codes = {tablet.new_code() for _ in range(100)}
    assert len(codes) == 100
    groups, letters = tablet.CODE
    assert len(tablet.LETTERS) ** (groups * letters) > 2**78


def test_a_lab_listens_on_one_address_and_nobody_is_told_the_code_with_it():
    reach = Reach("192.168.1.20", {"IdentityProvider.token": "abcd"}, ("a code",))
    options = server.server_options(Path("my-lab"), 8890, reach=reach)
    assert "--ServerApp.ip=192.168.1.20" in options
    assert "--IdentityProvider.token=abcd" in options
    alone = server.server_options(Path("my-lab"), 8890)
    assert "--ServerApp.ip=127.0.0.1" in alone
    assert not [each for each in alone if "token" in each]


def test_a_missing_package_is_named(tmp_path: Path, monkeypatch):
    monkeypatch.setitem(sys.modules, "cryptography", None)
    with pytest.raises(LabError, match="pip install cryptography"):
        tablet.certificate_file(tmp_path, "192.168.1.20")


def test_the_certificate_lasts_as_long_as_browsers_take_one(tmp_path: Path):
    made = tablet.certificate_file(tmp_path, "192.168.1.20")
    told = ssl._ssl._test_decode_cert(str(made))
    began, ends = (ssl.cert_time_to_seconds(told[name]) for name in ("notBefore", "notAfter"))
    assert timedelta(seconds=ends - began) == tablet.LASTS
