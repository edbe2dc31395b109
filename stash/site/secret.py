"""The secret key: made once, kept in the data folder, readable by its owner alone."""

import os
import secrets
import time
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

_BYTES = 50
LENGTH = len(secrets.token_urlsafe(_BYTES))


def secret_key(data: Path) -> str:
    """Read the key of a data folder, making it first if there is none.

    It is created exclusively: of several processes that start at once, one writes and all read the same.
    """
    path = data / "secret-key"
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return _read(path)
    except OSError as error:
        raise ImproperlyConfigured(
            f"WARPSHELF_DATA: nothing can be written to the folder {data} ({error.strerror}). "
            "Name a folder that you may write to."
        ) from error
    with os.fdopen(handle, "w") as file:
        file.write(secrets.token_urlsafe(_BYTES))
    return _read(path)


def _read(path: Path) -> str:
    """A key is whole once it has its length: another process may have made the file and be about to fill it."""
    for _ in range(100):
        try:
            key = path.read_text().strip()
        except OSError as error:
            raise ImproperlyConfigured(
                f"{path} cannot be read ({error.strerror}). Start as the person who owns the data folder."
            ) from error
        if len(key) >= LENGTH:
            return key
        time.sleep(0.01)
    raise ImproperlyConfigured(
        f"{path} holds no usable key: it has fewer than {LENGTH} signs. Remove the file; a new one is made, and "
        "people sign in again."
    )
