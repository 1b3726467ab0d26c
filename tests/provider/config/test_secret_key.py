from concurrent.futures import ThreadPoolExecutor
from stat import S_IMODE

import pytest
from django.core.exceptions import ImproperlyConfigured

from provider.config.secret_key import stored_secret_key


def test_it_makes_a_key_that_only_its_owner_can_read(tmp_path):
    path = tmp_path / "new" / "secret_key"
    key = stored_secret_key(path)
    assert len(key) >= 64
    assert S_IMODE(path.stat().st_mode) == 0o600
    assert S_IMODE(path.parent.stat().st_mode) == 0o700


def test_it_keeps_the_key_of_the_first_start(tmp_path):
    path = tmp_path / "secret_key"
    assert stored_secret_key(path) == stored_secret_key(path)


def test_it_gives_one_key_to_all_that_start_at_once(tmp_path):
    path = tmp_path / "secret_key"
    with ThreadPoolExecutor(16) as pool:
        keys = set(pool.map(stored_secret_key, [path] * 64))
    assert len(keys) == 1
    assert [file.name for file in tmp_path.iterdir()] == ["secret_key"]


def test_it_refuses_a_key_that_was_cut_short(tmp_path):
    path = tmp_path / "secret_key"
    path.write_text("short")
    with pytest.raises(ImproperlyConfigured, match="holds no usable key"):
        stored_secret_key(path)
