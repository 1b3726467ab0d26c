"""The key that signs sessions and form tokens: made on first start and kept beside the data."""

import os
import secrets
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

MINIMUM_LENGTH = 50


def stored_secret_key(path: Path) -> str:
    """The key kept in `path`, made first (mode 0600) when there is none.

    Safe when several processes start at once: each writes its own complete file, and only the first to link it into
    place wins. Raises `ImproperlyConfigured` when the file was cut short.
    """
    if not path.exists():
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        draft = path.with_name(f"{path.name}.{os.getpid()}.{secrets.token_hex(4)}")
        handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(secrets.token_urlsafe(64))
        try:
            os.link(draft, path)
        except FileExistsError:
            pass
        finally:
            draft.unlink()
    key = path.read_text(encoding="ascii").strip()
    if len(key) < MINIMUM_LENGTH:
        raise ImproperlyConfigured(f"{path} holds no usable key. Delete it to make a new one; everyone signs in again.")
    return key
