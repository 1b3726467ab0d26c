"""Keep the web server and the background worker running together, and end them together."""

import ctypes
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Mapping, Sequence
from time import monotonic

GRACE = 15.0  # seconds a child has to finish what it is doing
LONGEST_PAUSE = 60.0  # seconds between two tries to start a worker that keeps failing
TICK = 0.25


def _end_with_parent() -> Callable[[], None] | None:
    """On Linux, have the kernel end a child whose parent was killed outright; elsewhere there is no such call."""
    if sys.platform != "linux":
        return None
    libc = ctypes.CDLL(None)
    set_parent_death_signal = 1  # PR_SET_PDEATHSIG in <linux/prctl.h>
    return lambda: libc.prctl(set_parent_death_signal, signal.SIGTERM)


class Supervisor:
    """Runs a server, and beside it a worker that is started again when it dies; ends both on a signal.

    The children get their own session, so that Ctrl-C in the terminal reaches this process alone and each child is told
    to stop exactly once.
    """

    def __init__(self, server: Sequence[str], worker: Sequence[str] | None, environment: Mapping[str, str]) -> None:
        self._server_command, self._worker_command = server, worker
        self._environment = environment
        self._children: list[subprocess.Popen[bytes]] = []
        self._stop = threading.Event()

    def run(
        self, *, is_ready: Callable[[], bool], on_ready: Callable[[], None], on_worker_death: Callable[[int], None]
    ) -> int:
        """Serve until told to stop (returns 0) or until the server ends by itself (returns 1).

        `on_ready` is called once, when `is_ready` first says so. `on_worker_death` gets the exit code.
        """
        for name in ("SIGINT", "SIGTERM", "SIGHUP"):
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), lambda *_: self._stop.set())
        try:
            return self._serve(is_ready, on_ready, on_worker_death)
        finally:
            self._end_children()

    def _serve(
        self, is_ready: Callable[[], bool], on_ready: Callable[[], None], on_worker_death: Callable[[int], None]
    ) -> int:
        server = self._spawn(self._server_command)
        worker = self._spawn(self._worker_command) if self._worker_command else None
        announced, pause, started, restart_at = False, 1.0, monotonic(), 0.0
        while not self._stop.wait(TICK):
            if server.poll() is not None:
                return 1
            if not announced and is_ready():
                announced = True
                on_ready()
            if worker is not None and worker.poll() is not None:
                self._children.remove(worker)
                on_worker_death(worker.returncode)
                pause = 1.0 if monotonic() - started > LONGEST_PAUSE else min(pause * 2, LONGEST_PAUSE)
                worker, restart_at = None, monotonic() + pause
            if worker is None and self._worker_command and monotonic() >= restart_at:
                worker, started = self._spawn(self._worker_command), monotonic()
        return 0

    def _spawn(self, command: Sequence[str]) -> subprocess.Popen[bytes]:
        child = subprocess.Popen(  # noqa: S603 (our own commands, no shell)
            command,
            env=dict(self._environment),
            stdin=subprocess.DEVNULL,
            start_new_session=True,
            preexec_fn=_end_with_parent(),
        )
        self._children.append(child)
        return child

    def _end_children(self) -> None:
        for child in self._children:
            child.terminate()
        deadline = monotonic() + GRACE
        for child in self._children:
            try:
                child.wait(max(0.0, deadline - monotonic()))
            except subprocess.TimeoutExpired:
                _kill_group(child)
                child.wait()


def _kill_group(child: subprocess.Popen[bytes]) -> None:
    """End a child that did not stop, with the processes that it started itself."""
    if hasattr(os, "killpg"):
        os.killpg(child.pid, signal.SIGKILL)
    else:
        child.kill()
