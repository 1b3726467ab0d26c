"""The supervisor with small stand-ins for the server and the worker."""

import subprocess
import sys
import time
from pathlib import Path

from tests.processes import environment

IGNORES_TERM = (
    "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print('up', flush=True); time.sleep(600)"
)
SUPERVISE = """
import os, sys
from provider.config import processes
processes.GRACE = 0.5
def end():
    os.kill(os.getpid(), 15)
code = processes.Supervisor([sys.executable, "-c", sys.argv[1]], None, os.environ).run(
    is_ready=lambda: os.path.getsize(sys.argv[2]) > 0, on_ready=end, on_worker_death=print)
sys.exit(code)
"""


def supervise(tmp_path: Path, server: str) -> tuple[int, float]:
    log = tmp_path / "log"
    with log.open("w") as output:
        begun = time.monotonic()
        done = subprocess.run(
            [sys.executable, "-c", SUPERVISE, server, str(log)],
            stdout=output,
            stderr=subprocess.STDOUT,
            env=environment(tmp_path / "data"),
            timeout=60,
        )
    return done.returncode, time.monotonic() - begun


def test_it_kills_a_child_that_does_not_stop_in_time(tmp_path):
    code, seconds = supervise(tmp_path, IGNORES_TERM)
    assert code == 0
    assert seconds < 30


def test_it_reports_a_server_that_ends_by_itself(tmp_path):
    code, _seconds = supervise(tmp_path, "raise SystemExit(0)")
    assert code == 1
