"""Letting a tablet on the home network into the lab: over HTTPS, with a code, on one private address."""

import ipaddress
import os
import secrets
import socket
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from labkit.errors import LabError
from labkit.lab.reach import Reach

if TYPE_CHECKING:
    from cryptography.x509 import Certificate

LASTS = timedelta(days=397)
"""Browsers take no certificate for longer (CA/Browser Forum, Baseline Requirements, from memory)."""
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""Those that a hand and an eye tell apart."""
CODE = (4, 4)
"""Groups, and letters in each: 16 of 31 letters are 79 bits."""


def tablet_reach() -> Reach:
    """Return how a lab is reached from the home network.

    Raises
    ------
    LabError
        Where this computer has no address on a private network, or the package that makes
        certificates is missing.
    """
    host = home_address()
    made = certificate_file(_kept(), host)
    code = new_code()
    return Reach(
        host,
        {
            "ServerApp.certfile": made,
            "ServerApp.keyfile": made,
            "IdentityProvider.token": code,
        },
        _told(code, fingerprint(made)),
        made,
    )


def home_address() -> str:
    """Return this computer's address on its home network; `LabError` where it has none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("10.255.255.255", 9))  # sends nothing; it chooses the way out
            found = str(probe.getsockname()[0])
        except OSError:
            found = "127.0.0.1"
    return private_address(found)


def private_address(found: str) -> str:
    """Return an address of a private network, or raise `LabError` for any other.

    >>> private_address("192.168.1.20")
    '192.168.1.20'
    """
    address = ipaddress.ip_address(found)
    if address.is_loopback or not address.is_private:
        raise LabError(
            f"This computer has no address on a home network (it says {found}), so a tablet cannot reach the "
            "lab. Join your own Wi-Fi, or use the lab on this computer: labkit"
        )
    return found


def new_code() -> str:
    """Return a code to type on the tablet, such as “k7qf-3mnb-x2pd-9wty”."""
    groups, letters = CODE
    return "-".join("".join(secrets.choice(LETTERS) for _ in range(letters)) for _ in range(groups))


def certificate_file(folder: Path, host: str) -> Path:
    """Return a file with a key and a certificate for an address; made anew where there is none that holds.

    The file can be read by its owner alone.
    """
    path = folder / "tablet.pem"
    if not (path.is_file() and _holds(_certificate(path), host)):
        folder.mkdir(parents=True, exist_ok=True)
        made = path.with_suffix(".new")
        made.unlink(missing_ok=True)
        with os.fdopen(os.open(made, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(_made(host))
        made.replace(path)
    return path


def fingerprint(path: Path) -> str:
    """Return the SHA-256 fingerprint of the certificate in a file, as browsers show it."""
    from cryptography.hazmat.primitives.hashes import SHA256

    return _certificate(path).fingerprint(SHA256()).hex(":").upper()


def _kept() -> Path:
    from jupyter_core.paths import jupyter_data_dir

    return Path(jupyter_data_dir()) / "labkit"


def _certificate(path: Path) -> "Certificate":
    _assert_cryptography()
    from cryptography.x509 import load_pem_x509_certificate

    return load_pem_x509_certificate(path.read_bytes())


def _holds(certificate: "Certificate", host: str) -> bool:
    from cryptography.x509 import IPAddress, SubjectAlternativeName

    names = certificate.extensions.get_extension_for_class(SubjectAlternativeName).value
    hosts = [str(each) for each in names.get_values_for_type(IPAddress)]
    return host in hosts and datetime.now(UTC) < certificate.not_valid_after_utc


def _made(host: str) -> bytes:
    """Return a new key and its certificate for an address (RFC 5280), as PEM."""
    _assert_cryptography()
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "labkit on this computer")])
    began = datetime.now(UTC) - timedelta(minutes=5)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(began)
        .not_valid_after(began + LASTS)
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address(host))]), False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), False)
        .sign(key, hashes.SHA256())
    )
    private = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    return private + certificate.public_bytes(serialization.Encoding.PEM)


def _assert_cryptography() -> None:
    try:
        import cryptography  # noqa: F401
    except ImportError as problem:
        raise LabError(
            "To let a tablet in, labkit needs one more package, which makes the certificate. Install it "
            f"where labkit is installed: {sys.executable} -m pip install cryptography"
        ) from problem


def _told(code: str, print_of_it: str) -> tuple[str, ...]:
    return (
        "On the tablet, on the same home network, open that address and type this code where it asks for a "
        f"password or token: {code}",
        "The browser warns at first, since this computer made its own certificate. Before you go on, compare "
        f"its SHA-256 fingerprint: {print_of_it}",
        "Whoever has the address and the code can run anything on this computer. Do this at home only, never "
        "on a guest or café network, and close the lab when you are done.",
    )
