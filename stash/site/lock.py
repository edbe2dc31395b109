"""One server to a data folder, held by the operating system: it lets go however the server ends."""

import os
import sys
from pathlib import Path
from typing import IO

if sys.platform == "win32":
    import msvcrt

    # Such a lock keeps others from the locked byte itself: take one far behind the note that others may read.
    _FAR = 1 << 20

    def _lock(file: IO[str]) -> None:
        file.seek(_FAR)
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _lock(file: IO[str]) -> None:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


class Occupied(Exception):
    """Another server has the folder; `holder` is what it said of itself, or ""."""

    def __init__(self, folder: Path, holder: str) -> None:
        super().__init__(f"Another server is at work in {folder}{f': {holder}' if holder else ''}.")
        self.holder = holder


class FolderLock:
    """Held from `FolderLock(folder)` until `release` or the end of the process. The file itself stays."""

    def __init__(self, folder: Path, name: str = "server.lock") -> None:
        path = folder / name
        self._file = path.open("a+")
        try:
            _lock(self._file)
        except OSError as error:
            self._file.close()
            raise Occupied(folder, path.read_text().strip()) from error

    def note(self, text: str) -> None:
        """What the next one is told who comes meanwhile."""
        self._file.seek(0)
        self._file.truncate()
        self._file.write(f"{text} (process {os.getpid()})\n")
        self._file.flush()

    def release(self) -> None:
        self._file.seek(0)
        self._file.truncate()
        self._file.close()
