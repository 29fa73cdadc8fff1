"""From where the page can be reached, and what has to be there before it may."""

from __future__ import annotations

import ipaddress
import ssl
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from kerfwright.adapters.seats.store import open_seats
from kerfwright.app.seats import Role
from kerfwright.foundation.errors import FileError, InputError
from kerfwright.workbench.guard import LOOPBACK

_EVERYWHERE: Final = ("0.0.0.0", "::")  # noqa: S104 to be refused without a name


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """From where the page can be reached.

    Attributes
    ----------
    host : str
        Address that is listened at.
    names : tuple of str
        By which browsers reach it.
    certificate, key : Path or None
    proxy : str or None
        Address of the proxy that does the TLS.
    """

    host: str = LOOPBACK[0]
    names: tuple[str, ...] = ()
    certificate: Path | None = None
    key: Path | None = None
    proxy: str | None = None

    @property
    def is_beyond(self) -> bool:
        """Whether others than this machine can reach it."""
        return self.proxy is not None or not ipaddress.ip_address(self.host).is_loopback

    @property
    def is_secure(self) -> bool:
        """Whether browsers come by TLS."""
        return self.certificate is not None or self.proxy is not None

    @property
    def hosts(self) -> tuple[str, ...]:
        """Names that the server answers to."""
        own = f"[{self.host}]" if ":" in self.host else self.host
        is_one = self.host not in _EVERYWHERE
        loopback = LOOPBACK if not self.is_beyond else ()
        return tuple(dict.fromkeys((*loopback, *((own,) if is_one else ()), *self.names)))

    def check(self) -> None:
        """Refuse what would be open, or could not be reached.

        Raises
        ------
        InputError
            Codes ``host-unreadable``, ``tls-half``, ``tls-missing``, ``name-missing``.
        FileError
            Code ``tls-unusable``.
        """
        for address in (self.host, *([self.proxy] if self.proxy is not None else [])):
            _expect_address(address)
        if (self.certificate is None) != (self.key is None):
            raise InputError(
                "a certificate and its key belong together",
                code="tls-half",
                remedy="Give both --certificate and --key.",
            )
        if self.is_beyond and not self.is_secure:
            raise InputError(
                f"at {self.host} passwords and drawings would go over the line for all to read",
                code="tls-missing",
                remedy="Give --certificate and --key, or --behind-proxy ADDRESS where a proxy of "
                "yours does the TLS.",
            )
        if (self.host in _EVERYWHERE or self.proxy is not None) and not self.names:
            raise InputError(
                "by which name browsers reach this server is not said",
                code="name-missing",
                remedy="Give --name shop.example, again for each.",
            )
        if self.certificate is not None and self.key is not None:
            _expect_usable(self.certificate, self.key)


def _expect_address(text: str) -> None:
    try:
        ipaddress.ip_address(text)
    except ValueError as fault:
        raise InputError(
            f"{text!r} is no address",
            code="host-unreadable",
            remedy="Write 192.168.1.20, ::1 or 0.0.0.0; a name belongs to --name.",
        ) from fault


def _expect_usable(certificate: Path, key: Path) -> None:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        # A key that is encrypted is opened by nobody: a server starts without anybody there.
        context.load_cert_chain(certificate, key, password=lambda: "")
    except (ssl.SSLError, OSError, ValueError) as fault:
        raise FileError(
            f"certificate and key cannot be used: {getattr(fault, 'reason', '') or fault}",
            code="tls-unusable",
            where=f"{certificate}, {key}",
            remedy="Both are PEM files, the key that of the certificate and not encrypted.",
        ) from fault


def expect_owner(jobs: Path, index: str | None) -> None:
    """Refuse to be reached by others before there is somebody who says who they are.

    Raises
    ------
    InputError
        Code ``seats-none``.
    FileError
    """
    seats = open_seats(jobs, url=index)
    try:
        if any(one.role is Role.OWNER for one in seats.seats()):
            return
    finally:
        seats.database.close()
    raise InputError(
        "nobody could log in: no owner has a seat at these jobs",
        code="seats-none",
        where=str(jobs),
        remedy="kerfwright seats add NAME --role owner, with the same --jobs and --index.",
    )
