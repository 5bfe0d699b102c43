"""Certificates for a test: an authority of its own, and what it vouches for on loopback."""

import ipaddress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID


@dataclass(frozen=True)
class Certificates:
    """The files of one party: who vouches, its certificate, its key."""

    authority: Path
    certificate: Path
    key: Path

    def options(self) -> tuple[str, ...]:
        """The same as options of `dask scheduler`, `dask worker` and of levelhold."""
        return (
            *("--tls-ca-file", str(self.authority)),
            *("--tls-cert", str(self.certificate)),
            *("--tls-key", str(self.key)),
        )


def certificates(folder: Path) -> Certificates:
    """A new authority, and a certificate by it for 127.0.0.1, good for a day."""
    folder.mkdir(parents=True, exist_ok=True)
    root, own = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())
    authority = _certificate("an authority of this test", root, root, None)
    vouched = _certificate("127.0.0.1", own, root, authority.subject)
    found = Certificates(folder / "authority.pem", folder / "own.pem", folder / "own.key")
    found.authority.write_bytes(authority.public_bytes(serialization.Encoding.PEM))
    found.certificate.write_bytes(vouched.public_bytes(serialization.Encoding.PEM))
    found.key.write_bytes(
        own.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    return found


def _certificate(
    name: str,
    key: ec.EllipticCurvePrivateKey,
    signer: ec.EllipticCurvePrivateKey,
    issuer: x509.Name | None,
) -> x509.Certificate:
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    now = datetime.now(UTC)
    begun = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer or subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.BasicConstraints(ca=issuer is None, path_length=None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.public_key()), critical=False
        )
    )
    if issuer is not None:
        names = [x509.IPAddress(ipaddress.ip_address(name)), x509.DNSName("localhost")]
        begun = begun.add_extension(x509.SubjectAlternativeName(names), critical=False)
    return begun.sign(signer, hashes.SHA256())
