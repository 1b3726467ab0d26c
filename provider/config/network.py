"""Addresses of this machine, and whether a port is free."""

import errno
import ipaddress
import socket
from contextlib import suppress


def home_addresses() -> list[str]:
    """IPv4 addresses under which other devices at home reach this machine, the likeliest first; may be empty."""
    found: list[str] = []
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        # Connecting a datagram socket sends nothing; it only asks which of our addresses would be used.
        probe.connect(("192.0.2.1", 9))
        found.append(probe.getsockname()[0])
    with suppress(OSError):
        found += [str(entry[4][0]) for entry in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return [text for text in dict.fromkeys(found) if not ipaddress.ip_address(text).is_loopback]


def port_is_free(host: str, port: int) -> bool:
    """Whether a server could listen there now. Raises `OSError` when `host` is not an address of this machine."""
    family, kind, proto, _name, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
    with socket.socket(family, kind, proto) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(address)
        except OSError as error:
            if error.errno == errno.EADDRINUSE:
                return False
            raise
    return True
