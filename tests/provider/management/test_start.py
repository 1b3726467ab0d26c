"""`manage.py start` as real processes: what a person sees, and what is left when it ends."""

import hashlib
import http.client
import json
import re
import signal
import socket
import ssl
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from stat import S_IMODE

import pytest
from django.conf import settings

from tests.processes import environment, run_python

SMALL_DEMO = """
from provider.models import Membership
from tests.factories import make_provider, make_user
demo = make_provider(slug="demo", is_example=True)
Membership.objects.create(provider=demo, user=make_user("owner"), role="owner")
"""
PATIENCE = 60  # seconds, on a busy machine


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def wait_until(condition, what):
    """Ask again and again, at most for PATIENCE seconds, and return the first answer that is not false."""
    deadline = time.monotonic() + PATIENCE
    while time.monotonic() < deadline:
        if answer := condition():
            return answer
        time.sleep(0.05)
    raise AssertionError(f"waited {PATIENCE} s in vain for {what}")


def descendants(pid: int) -> dict[int, str]:
    """The living processes below `pid`, with their command lines."""
    found = {}
    for child in map(int, Path(f"/proc/{pid}/task/{pid}/children").read_text().split()):
        found[child] = Path(f"/proc/{child}/cmdline").read_text().replace("\0", " ")
        found |= descendants(child)
    return found


def gone(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z"
    except (FileNotFoundError, ProcessLookupError):
        return True


@dataclass
class Started:
    process: subprocess.Popen[str]
    port: int
    data: Path
    log: Path

    @property
    def output(self) -> str:
        return self.log.read_text()

    def get(self, path, *, trust=None, headers=None):
        """Answer and body of one request, over TLS when `trust` is given."""
        if trust is None:
            connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        else:
            connection = http.client.HTTPSConnection("127.0.0.1", self.port, timeout=10, context=trust)
        try:
            connection.request("GET", path, headers=headers or {})
            response = connection.getresponse()
            return response, response.read()
        finally:
            connection.close()

    def child(self, words: str) -> int | None:
        return next((pid for pid, line in descendants(self.process.pid).items() if words in line), None)

    def end(self, how=signal.SIGTERM) -> int:
        self.process.send_signal(how)
        return self.process.wait(PATIENCE)


@pytest.fixture
def start(tmp_path):
    """Start the books on a free port and wait until they say so; whatever is left is killed after the test."""
    running = []

    def make(*arguments, **variables):
        port, data, log = free_port(), tmp_path / "data", tmp_path / "start.log"
        with log.open("w") as output:
            process = subprocess.Popen(
                [sys.executable, "manage.py", "start", "--port", str(port), *arguments],
                cwd=settings.BASE_DIR,
                env=environment(data, **variables),
                stdout=output,
                stderr=subprocess.STDOUT,
                text=True,
            )
        started = Started(process, port, data, log)
        running.append(started)
        wait_until(lambda: process.poll() is not None or "Stop   Ctrl-C" in started.output, "the address")
        assert process.poll() is None, started.output
        return started

    yield make
    for started in running:
        if started.process.poll() is None:
            started.process.kill()
            started.process.wait()


def test_it_serves_pages_and_static_files_and_ends_cleanly(start):
    books = start()
    health, body = books.get("/health/")
    assert (health.status, body) == (200, b"ok")
    manifest = json.loads((books.data / "static" / "staticfiles.json").read_text())
    script, _body = books.get(f"/static/{manifest['paths']['django_htmx/htmx-2.min.js']}")
    assert script.status == 200
    assert "immutable" in script.getheader("Cache-Control")
    assert f"http://127.0.0.1:{books.port}/" in books.output
    assert str(books.data) in books.output
    assert S_IMODE((books.data / "secret_key").stat().st_mode) == 0o600

    children = descendants(books.process.pid)
    assert any("db_worker" in line for line in children.values())
    assert any("granian" in line for line in children.values())
    assert books.end() == 0
    wait_until(lambda: all(map(gone, children)), "the children to end")


@pytest.mark.browser
def test_the_demo_login_that_it_prints_opens_the_demo(start, tmp_path, browser):
    seeded = run_python(tmp_path / "data", "manage.py", "migrate", "--verbosity", "0")
    assert seeded.returncode == 0, seeded.stderr
    seeded = run_python(tmp_path / "data", "manage.py", "shell", "-c", SMALL_DEMO)
    assert seeded.returncode == 0, seeded.stderr
    books = start("--demo", "--no-worker")

    password = re.search(r"Password  (\S+)", books.output)[1]
    page = browser.new_page()
    page.goto(f"http://127.0.0.1:{books.port}/")
    page.fill("[name=username]", "owner")
    page.fill("[name=password]", password)
    page.press("[name=password]", "Enter")
    page.wait_for_url("**/demo/**")


def test_an_error_shows_a_stranger_nothing_of_the_inside(start):
    books = start("--no-worker")
    refused, page = books.get("/health/", headers={"Host": "another.example"})
    assert refused.status == 400
    assert b"Traceback" not in page
    assert b"ALLOWED_HOSTS" not in page


def test_ctrl_c_ends_it_with_success(start):
    books = start("--no-worker")
    assert books.child("db_worker") is None
    assert books.end(signal.SIGINT) == 0
    assert books.output.rstrip().endswith("Stopped.")


def test_it_starts_a_worker_again_that_died(start):
    books = start()
    first = wait_until(lambda: books.child("db_worker"), "the worker")
    subprocess.run(["kill", "-KILL", str(first)], check=True)
    second = wait_until(lambda: (found := books.child("db_worker")) != first and found, "another worker")
    assert second != first
    assert "started again" in books.output
    assert books.end() == 0


def test_it_ends_with_an_error_when_the_web_server_dies(start):
    books = start()
    worker = wait_until(lambda: books.child("db_worker"), "the worker")
    subprocess.run(["kill", "-TERM", str(books.child("-m granian"))], check=True)
    assert books.process.wait(PATIENCE) == 1
    wait_until(lambda: gone(worker), "the worker to end")


def test_no_child_outlives_a_killed_parent(start):
    books = start()
    children = wait_until(lambda: descendants(books.process.pid), "children")
    books.process.kill()
    books.process.wait()
    wait_until(lambda: all(map(gone, children)), "the children to end")


def test_it_refuses_a_port_in_use_before_touching_any_data(tmp_path):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        result = run_python(tmp_path / "data", "manage.py", "start", "--port", str(other.getsockname()[1]))
    assert result.returncode == 1
    assert "is in use" in result.stderr
    assert not (tmp_path / "data" / "db.sqlite3").exists()


@pytest.mark.parametrize(
    ("arguments", "complaint"),
    [
        (["--port", "0"], "a port is a number from 1 to 65535"),
        (["--port", "http"], "a port is a number from 1 to 65535"),
        (["--workers", "0"], "the number of web workers is from 1 to 64"),
        (["--host", "192.0.2.77"], "Cannot listen on 192.0.2.77"),
        (["--host", "no such host"], "Cannot listen on no such host"),
    ],
)
def test_it_refuses_nonsense_with_a_plain_sentence(tmp_path, arguments, complaint):
    result = run_python(tmp_path / "data", "manage.py", "start", *arguments)
    assert result.returncode != 0
    assert complaint in result.stderr
    assert "Traceback" not in result.stderr


def test_it_serves_the_home_network_over_https(start):
    books = start("--lan", "--lan-address", "127.0.0.1", "--no-worker")
    trust = ssl.create_default_context(cafile=str(books.data / "tls" / "certificate.pem"))
    health, body = books.get("/health/", trust=trust)
    assert (health.status, body) == (200, b"ok")
    page, _body = books.get("/", trust=trust)
    assert page.status < 400
    assert page.getheader("Strict-Transport-Security") is None
    assert "https://" not in (page.getheader("Location") or "")

    assert f"https://127.0.0.1:{books.port}/" in books.output
    assert "▄" in books.output
    der = ssl.PEM_cert_to_DER_cert((books.data / "tls" / "certificate.pem").read_text())
    shown = "".join(re.findall(r"^  ((?:[0-9A-F]{2}:?)+)$", books.output, re.MULTILINE)).replace(":", "")
    assert shown == hashlib.sha256(der).hexdigest().upper()
    assert books.end() == 0
