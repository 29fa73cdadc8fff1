"""The cipher of sealed jobs: bytes in, bytes out; knows no files.

A passphrase opens a private key (scrypt, RFC 7914; AES-256-GCM, RFC 5116).  What is sealed has a
key of its own, which is made for the public key that goes with it (X25519, RFC 7748; HKDF, RFC
5869).  Hence a job that was opened can be sealed again without anybody keeping the passphrase.
"""

from __future__ import annotations

import base64
import json
import secrets
from dataclasses import dataclass, replace
from typing import Any, Final

from kerfwright.foundation.errors import InputError, MissingPackageError

_FORMAT, _VERSION = "kerfwright-seal", 1
_SCRYPT_N: Final = 2**17
_SCRYPT_R: Final = 8
_SCRYPT_P: Final = 1
"""128 MB and some tenths of a second for each guess."""
_MOST_SCRYPT_N: Final = 2**20
_KEY: Final = 32
_NONCE: Final = 12
_SALT: Final = 16
LEAST_PASSPHRASE: Final = 12
"""Letters at least: whoever took the files guesses as fast as he can.  Common practice, no
source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seal:
    """What lies beside a sealed job for all to read.

    Attributes
    ----------
    salt, public, private : bytes
        The private key is encrypted with the passphrase.
    n, r, p : int
        Cost of scrypt.
    """

    salt: bytes
    public: bytes
    private: bytes
    n: int = _SCRYPT_N
    r: int = _SCRYPT_R
    p: int = _SCRYPT_P

    def text(self) -> str:
        """Return it as a file holds it."""
        said = {
            "format": _FORMAT,
            "version": _VERSION,
            "scrypt": {"n": self.n, "r": self.r, "p": self.p, "salt": _b64(self.salt)},
            "public": _b64(self.public),
            "private": _b64(self.private),
        }
        return json.dumps(said, indent=1) + "\n"


def seal_of(text: str, *, where: str) -> Seal:
    """Return the seal that a file holds.

    Raises
    ------
    InputError
        Code ``seal-damaged``.
    """
    try:
        said: dict[str, Any] = json.loads(text)
        cost = said["scrypt"]
        found = Seal(
            salt=base64.b64decode(cost["salt"], validate=True),
            public=base64.b64decode(said["public"], validate=True),
            private=base64.b64decode(said["private"], validate=True),
            n=int(cost["n"]),
            r=int(cost["r"]),
            p=int(cost["p"]),
        )
        is_ours = (said["format"], said["version"]) == (_FORMAT, _VERSION)
    except (ValueError, KeyError, TypeError) as fault:
        raise damaged(where) from fault
    # A file that was tampered with must not make this machine compute for ever.
    is_sane = found.n <= _MOST_SCRYPT_N and found.r <= _SCRYPT_R and found.p <= _SCRYPT_P
    if not is_ours or not is_sane or len(found.public) != _KEY:
        raise damaged(where)
    return found


def damaged(where: str) -> InputError:
    """Return the fault of a sealed job that is not as it was sealed."""
    return InputError(
        "the sealed job is damaged, or of a later version of kerfwright",
        code="seal-damaged",
        where=where,
        remedy="Put the copy of a backup back.",
    )


def expect_cryptography() -> None:
    """Refuse where the library is missing.

    Raises
    ------
    MissingPackageError
        Code ``seal-not-installed``.
    """
    try:
        import cryptography  # noqa: F401 whether it is there
    except ImportError as fault:
        raise MissingPackageError(
            "sealing needs cryptography, not installed here",
            code="seal-not-installed",
            remedy='Install "kerfwright[workbench]".',
        ) from fault


def new_seal(passphrase: str) -> Seal:
    """Return a seal that a passphrase opens.

    Raises
    ------
    InputError
        Code ``passphrase-weak``.
    """
    expect_cryptography()
    from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey

    if len(passphrase) < LEAST_PASSPHRASE or len(set(passphrase)) < LEAST_PASSPHRASE // 3:
        raise InputError(
            f"a passphrase has at least {LEAST_PASSPHRASE} letters, and not few alike",
            code="passphrase-weak",
            remedy="Six words that do not belong together are a good one.",
        )
    private = X25519PrivateKey.generate()
    public = private.public_key().public_bytes_raw()
    salt = secrets.token_bytes(_SALT)
    bare = Seal(salt=salt, public=public, private=b"", n=_SCRYPT_N)
    locked = encrypted(_from_passphrase(bare, passphrase), private.private_bytes_raw(), public)
    return replace(bare, private=locked)


def new_key(seal: Seal, about: bytes) -> tuple[bytes, bytes]:
    """Return a fresh key, and it made for the seal so that only its passphrase gives it back."""
    from cryptography.hazmat.primitives.asymmetric.x25519 import (
        X25519PrivateKey,
        X25519PublicKey,
    )

    once = X25519PrivateKey.generate()
    shared = once.exchange(X25519PublicKey.from_public_bytes(seal.public))
    sender = once.public_key().public_bytes_raw()
    key = secrets.token_bytes(_KEY)
    return key, sender + encrypted(_from_shared(shared, sender, seal.public), key, about)


def opened_key(seal: Seal, wrapped: bytes, about: bytes, passphrase: str, *, where: str) -> bytes:
    """Return the key that was made for a seal.

    Raises
    ------
    InputError
        Codes ``passphrase-wrong``, ``seal-damaged``.
    """
    expect_cryptography()
    from cryptography.exceptions import InvalidTag
    from cryptography.hazmat.primitives.asymmetric.x25519 import (
        X25519PrivateKey,
        X25519PublicKey,
    )

    try:
        bare = decrypted(_from_passphrase(seal, passphrase), seal.private, seal.public)
    except InvalidTag as fault:
        raise InputError(
            "this is not the passphrase of the job",
            code="passphrase-wrong",
            where=where,
            remedy="A passphrase that is lost is lost: nobody can open the job without it.",
        ) from fault
    try:
        sender = wrapped[:_KEY]
        private = X25519PrivateKey.from_private_bytes(bare)
        shared = private.exchange(X25519PublicKey.from_public_bytes(sender))
        return decrypted(_from_shared(shared, sender, seal.public), wrapped[_KEY:], about)
    except (InvalidTag, ValueError) as fault:
        raise damaged(where) from fault


def encrypted(key: bytes, data: bytes, about: bytes) -> bytes:
    """Return data encrypted, bound to what it is about."""
    from cryptography.hazmat.primitives.ciphers.aead import AESGCM

    nonce = secrets.token_bytes(_NONCE)
    return nonce + AESGCM(key).encrypt(nonce, data, about)


def decrypted(key: bytes, data: bytes, about: bytes) -> bytes:
    """Return what :func:`encrypted` was given; raises ``InvalidTag`` of ``cryptography``."""
    from cryptography.exceptions import InvalidTag
    from cryptography.hazmat.primitives.ciphers.aead import AESGCM

    if len(data) <= _NONCE:
        raise InvalidTag
    return AESGCM(key).decrypt(data[:_NONCE], data[_NONCE:], about)


def _from_passphrase(seal: Seal, passphrase: str) -> bytes:
    from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

    derive = Scrypt(salt=seal.salt, length=_KEY, n=seal.n, r=seal.r, p=seal.p)
    return derive.derive(passphrase.encode("utf-8", "surrogatepass"))


def _from_shared(shared: bytes, sender: bytes, public: bytes) -> bytes:
    from cryptography.hazmat.primitives.hashes import SHA256
    from cryptography.hazmat.primitives.kdf.hkdf import HKDF

    info = b"kerfwright-seal 1" + sender + public
    return HKDF(algorithm=SHA256(), length=_KEY, salt=None, info=info).derive(shared)


def _b64(data: bytes) -> str:
    return base64.b64encode(data).decode()
