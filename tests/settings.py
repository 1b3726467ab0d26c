"""The project's settings over a throw-away data directory, one for each test process.

`DATABASE_URL` still selects the database, so the same suite runs on SQLite and on PostgreSQL.
"""

import atexit
import os
import shutil
import tempfile

_directory = tempfile.mkdtemp(prefix="playroom-tests-")
atexit.register(shutil.rmtree, _directory, ignore_errors=True)
for _name in ("PUBLIC_URL", "ALLOWED_HOSTS", "BEHIND_PROXY", "HSTS_SECONDS", "DEBUG", "EMAIL_HOST", "DEMO_PASSWORD"):
    os.environ.pop(_name, None)
os.environ["DATA_DIR"] = _directory

from provider.config.settings import *  # noqa: E402, F403
from provider.config.settings import DATA_DIR, DATABASE_URL, DATABASES, STATIC_ROOT, STORAGES  # noqa: E402

STATIC_ROOT.mkdir()  # whitenoise warns about a missing one
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
TASKS = {"default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend"}}

if DATABASE_URL:
    # A connection kept open by a live server's thread would stop the test database from being dropped.
    DATABASES["default"]["CONN_MAX_AGE"] = 0
else:
    # A file rather than memory: two threads then meet the same locks as in real life.
    DATABASES["default"]["TEST"] = {"NAME": DATA_DIR / "test.sqlite3"}
