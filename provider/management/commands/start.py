"""`manage.py start`: everything needed to use the books, in one command."""

import http.client
import io
import os
import socket
import ssl
import sys
from argparse import SUPPRESS, ArgumentTypeError
from contextlib import suppress
from datetime import UTC, datetime
from http import HTTPStatus
from typing import Any

import segno
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from provider.config.certificate import Certificate, home_certificate
from provider.config.network import home_addresses, port_is_free
from provider.config.processes import Supervisor
from provider.services.demo_login import DEMO_USERNAMES, demo_exists, reset_demo_password

ANYWHERE = {"0.0.0.0", "::"}  # noqa: S104 (compared with, not bound to)
RULE = "-" * 72


def _port(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 65_535:
        raise ArgumentTypeError(f"a port is a number from 1 to 65535, not {text!r}")
    return int(text)


def _workers(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 64:
        raise ArgumentTypeError(f"the number of web workers is from 1 to 64, not {text!r}")
    return int(text)


class Command(BaseCommand):
    help = "Bring the database up to date and serve the books, with the background worker, until Ctrl-C."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--demo", action="store_true", help="load an invented business and print a way in")
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default: %(default)s)")
        parser.add_argument("--port", type=_port, default=8000, help="port to listen on (default: %(default)s)")
        parser.add_argument("--lan", action="store_true", help="serve HTTPS to phones and tablets on the home network")
        parser.add_argument("--lan-address", help=SUPPRESS)  # the one address to use instead of those found
        parser.add_argument("--workers", type=_workers, default=1, help="web server processes (default: %(default)s)")
        parser.add_argument("--no-worker", action="store_true", help="leave background work to another process")

    def handle(
        self,
        *args: Any,
        demo: bool,
        host: str,
        port: int,
        lan: bool,
        lan_address: str | None,
        workers: int,
        no_worker: bool,
        **options: Any,
    ) -> None:
        addresses = self._home_addresses(lan_address) if lan else []
        if lan:
            host = lan_address or "0.0.0.0"  # noqa: S104 (the home network is the purpose of --lan)
        self._require_free(host, port)

        call_command("migrate", verbosity=0, interactive=False)
        call_command("collectstatic", verbosity=0, interactive=False)
        password = self._load_demo() if demo else None

        certificate = self._certificate(addresses) if lan else None
        address = self._public_address(host, port, addresses)
        supervisor = Supervisor(
            self._server_command(host, port, workers, certificate),
            None if no_worker else [sys.executable, str(settings.BASE_DIR / "manage.py"), "db_worker"],
            self._environment(host, address, addresses),
        )
        code = supervisor.run(
            is_ready=lambda: _answers(host, port, certificate),
            on_ready=lambda: self._announce(address, password, certificate),
            on_worker_death=lambda code: self.stderr.write(
                f"The background worker ended (exit code {code}) and is started again."
            ),
        )
        if code:
            raise CommandError("The web server ended by itself; the lines above say why.")
        self.stdout.write("Stopped.")

    def _home_addresses(self, lan_address: str | None) -> list[str]:
        addresses = [lan_address] if lan_address else home_addresses()
        if not addresses:
            raise CommandError("--lan found no home network. Join one (Wi-Fi or cable) and start again.")
        return addresses

    def _require_free(self, host: str, port: int) -> None:
        try:
            free = port_is_free(host, port)
        except OSError as error:
            raise CommandError(f"Cannot listen on {host}, port {port}: {error.strerror}.") from error
        if not free:
            raise CommandError(
                f"Port {port} is in use, perhaps by these books already running. "
                f"Stop that, or choose another with --port NUMBER."
            )

    def _load_demo(self) -> str | None:
        if not demo_exists():
            self.stdout.write("Loading the demo business. This takes a minute the first time.")
            self.stdout.flush()
            call_command("load_demo", verbosity=0)
        return reset_demo_password()

    def _certificate(self, addresses: list[str]) -> Certificate:
        name = socket.gethostname()
        names = [*addresses, name, f"{name}.local", "localhost", "127.0.0.1"]
        return home_certificate(settings.DATA_DIR / "tls", list(dict.fromkeys(names)), now=datetime.now(UTC))

    def _public_address(self, host: str, port: int, addresses: list[str]) -> str:
        if addresses:
            return f"https://{addresses[0]}:{port}"
        if settings.PUBLIC_URL is not None:
            return settings.PUBLIC_URL.geturl().rstrip("/")
        shown = "127.0.0.1" if host in ANYWHERE else host
        return f"http://[{shown}]:{port}" if ":" in shown else f"http://{shown}:{port}"

    def _environment(self, host: str, address: str, addresses: list[str]) -> dict[str, str]:
        """What the web server and the worker are told beside our own environment."""
        hosts = [os.environ.get("ALLOWED_HOSTS", "")]
        environment = os.environ | {"DATA_DIR": str(settings.DATA_DIR)}
        if addresses:
            name = socket.gethostname()
            hosts += [*addresses, name, f"{name}.local"]
            # A browser must go on offering the way round its warning, so nothing is pinned.
            environment |= {"PUBLIC_URL": address, "HSTS_SECONDS": "0"}
        elif host not in ANYWHERE:
            hosts.append(f"[{host}]" if ":" in host else host)
        return environment | {"ALLOWED_HOSTS": ",".join(filter(None, hosts))}

    def _server_command(self, host: str, port: int, workers: int, certificate: Certificate | None) -> list[str]:
        command = [sys.executable, "-m", "granian", "--interface", "wsgi", "--no-ws", "--log-level", "warning"]
        command += ["--host", host, "--port", str(port), "--workers", str(workers), "--blocking-threads", "4"]
        command += ["--working-dir", str(settings.BASE_DIR), "--workers-kill-timeout", "10"]
        command += ["--respawn-failed-workers"]  # a crash in one request must not end the day
        if certificate is not None:
            command += ["--ssl-certificate", str(certificate.certificate), "--ssl-keyfile", str(certificate.key)]
            command += ["--ssl-protocol-min", "tls1.2"]  # older tablets at the door
        return [*command, "provider.config.wsgi:application"]

    def _announce(self, address: str, password: str | None, certificate: Certificate | None) -> None:
        kept = (
            f"PostgreSQL (DATABASE_URL), files in {settings.DATA_DIR}" if settings.DATABASE_URL else settings.DATA_DIR
        )
        lines = [RULE, f"  Open   {address}/"]
        if password is not None:
            lines += [f"  Login  {DEMO_USERNAMES[0]} (or {', '.join(DEMO_USERNAMES[1:])})", f"  Password  {password}"]
        lines += [f"  Data   {kept}", "  Stop   Ctrl-C"]
        if certificate is not None:
            lines += [
                "",
                "  A phone or tablet on the same network opens the address above, or this code.",
                "  Its browser warns once, because this machine vouches for itself. Go on only if",
                "  the certificate it shows has this SHA-256 fingerprint:",
                f"  {certificate.fingerprint[:47]}",
                f"  {certificate.fingerprint[48:]}",
            ]
        self.stdout.write("\n".join(lines))
        if certificate is not None:
            picture = io.StringIO()
            segno.make(address).terminal(out=picture, compact=True)
            with suppress(UnicodeEncodeError):  # a terminal without block characters shows the address alone
                self.stdout.write(picture.getvalue())
        self.stdout.write(RULE)
        self.stdout.flush()


def _answers(host: str, port: int, certificate: Certificate | None) -> bool:
    """Whether the server answers at /health/ by now."""
    local = "127.0.0.1" if host in ANYWHERE else host
    connection: http.client.HTTPConnection
    if certificate is None:
        connection = http.client.HTTPConnection(local, port, timeout=5)
    else:
        trust = ssl.create_default_context(cafile=str(certificate.certificate))
        connection = http.client.HTTPSConnection(local, port, timeout=5, context=trust)
    try:
        with suppress(OSError, http.client.HTTPException):
            connection.request("GET", "/health/")
            return connection.getresponse().status == HTTPStatus.OK
        return False
    finally:
        connection.close()
