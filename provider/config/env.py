"""Read settings from the environment and refuse nonsense.

Each helper returns the default for a variable that is unset or blank, and raises `ImproperlyConfigured` with the
variable's name and what would be accepted. Values are never echoed for secrets: only the named kinds below show them.
"""

import os
from collections.abc import Collection
from pathlib import Path
from urllib.parse import SplitResult, urlsplit

from django.core.exceptions import ImproperlyConfigured

YES = frozenset({"1", "true", "yes", "on"})
NO = frozenset({"0", "false", "no", "off"})


def env_str(name: str, default: str = "") -> str:
    """The variable's text without surrounding blanks."""
    return os.environ.get(name, "").strip() or default


def env_bool(name: str, *, default: bool) -> bool:
    """True for 1, true, yes, on; False for 0, false, no, off; in any case of letters."""
    text = env_str(name).lower()
    if not text:
        return default
    if text in YES:
        return True
    if text in NO:
        return False
    raise ImproperlyConfigured(f"{name} must be yes or no, not {text!r}.")


def env_int(name: str, *, default: int, minimum: int, maximum: int) -> int:
    """A whole number from `minimum` to `maximum`, both included."""
    text = env_str(name)
    if not text:
        return default
    try:
        number = int(text)
    except ValueError:
        number = None
    if number is None or not minimum <= number <= maximum:
        raise ImproperlyConfigured(f"{name} must be a whole number from {minimum} to {maximum}, not {text!r}.")
    return number


def env_choice(name: str, choices: Collection[str], *, default: str) -> str:
    """One of `choices`, compared exactly."""
    text = env_str(name, default)
    if text not in choices:
        raise ImproperlyConfigured(f"{name} must be one of {', '.join(sorted(choices))}, not {text!r}.")
    return text


def env_path(name: str, *, default: Path) -> Path:
    """An absolute path; a relative one starts at the current directory, `~` is the home directory."""
    path = Path(env_str(name, str(default))).expanduser().absolute()
    if path.exists() and not path.is_dir():
        raise ImproperlyConfigured(f"{name} must be a directory, but {path} is a file.")
    return path


def env_list(name: str) -> list[str]:
    """The parts of a comma-separated list, blanks removed."""
    return [part.strip() for part in env_str(name).split(",") if part.strip()]


def env_hosts(name: str) -> list[str]:
    """Host names or addresses, comma-separated; a wildcard or an address with scheme, path or port is refused."""
    hosts = env_list(name)
    for host in hosts:
        plain_ipv6 = host.startswith("[") and host.endswith("]")
        if "*" in host or "/" in host or (":" in host and not plain_ipv6):
            raise ImproperlyConfigured(f"{name} must be plain host names separated by commas, not {host!r}.")
    return hosts


def env_url(name: str) -> SplitResult | None:
    """An http or https address without path, query or login, such as https://books.example:8443; None when unset."""
    text = env_str(name)
    if not text:
        return None
    try:
        url = urlsplit(text)
        host, _port = url.hostname, url.port  # .port raises ValueError beyond 65535
    except ValueError:
        host = None
    if (
        not host
        or url.scheme not in {"http", "https"}
        or url.username
        or url.path.strip("/")
        or url.query
        or url.fragment
    ):
        raise ImproperlyConfigured(f"{name} must look like https://books.example or http://192.0.2.7:8000.")
    return url
