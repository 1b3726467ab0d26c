import ipaddress
import socket

import pytest

from provider.config.network import home_addresses, port_is_free


def test_a_port_with_a_listener_is_not_free():
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        assert not port_is_free("127.0.0.1", other.getsockname()[1])


def test_a_port_is_free_once_its_listener_is_gone():
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        port = other.getsockname()[1]
    assert port_is_free("127.0.0.1", port)


def test_an_address_of_another_machine_is_an_error():
    with pytest.raises(OSError, match="Cannot assign"):
        port_is_free("192.0.2.77", 8000)


def test_it_never_offers_the_loopback_address_to_the_home_network():
    addresses = home_addresses()
    assert len(addresses) == len(set(addresses))
    assert not [text for text in addresses if ipaddress.ip_address(text).is_loopback]


def test_it_offers_nothing_without_a_network(monkeypatch):
    def refuse(*arguments):
        raise OSError("no network")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    assert home_addresses() == []
