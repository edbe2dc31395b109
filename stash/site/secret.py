"""The secret key: made once, kept in the data folder, readable by its owner alone."""

import os
import secrets
import time
from pathlib import Path


def secret_key(data: Path) -> str:
    """Read the key of a data folder, making it first if there is none.

    It is created exclusively: of several processes that start at once, one writes and all read the same.
    """
    path = data / "secret-key"
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return _read(path)
    with os.fdopen(handle, "w") as file:
        file.write(secrets.token_urlsafe(50))
    return _read(path)


def _read(path: Path) -> str:
    for _ in range(100):
        key = path.read_text().strip()
        if len(key) >= 50:
            return key
        time.sleep(0.01)  # another process has created the file and is about to fill it
    raise RuntimeError(
        f"{path} holds no usable key. Remove the file; a new one is made (people sign in again)."
    )
