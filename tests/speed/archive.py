"""How quick a studio is written to an archive, read, opened, and backed up."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter
from typing import TypeVar

Result = TypeVar("Result")


def rates() -> Iterator[str]:
    """One line a step, with seconds and rows a second. At the end the studio stands as it did; everyone is signed out."""
    from stash.archive.reading import Archive
    from stash.site.archive import LAYOUT, open_studio, write_studio
    from stash.site.backup.making import make_backup
    from stash.site.backup.restoring import restore
    from stash.site.folders import backups_folder

    with TemporaryDirectory(prefix="warpshelf-speed-") as folder:
        path = Path(folder) / "studio.warpshelf"

        def write() -> int:
            with path.open("wb") as file:
                return sum(write_studio(file).values())

        seconds, rows = timed(write)
        yield line("archive written", seconds, rows, path.stat().st_size)
        seconds, _ = timed(lambda: Archive(path, LAYOUT).close())
        yield line("archive checked", seconds, rows)
        seconds, _ = timed(lambda: open_studio(path, replace=True))
        yield line("checked, opened in place", seconds, rows)
        first = path.read_bytes()
        write()
        assert path.read_bytes() == first, "the archive came back as another"
    seconds, backup = timed(lambda: make_backup("by hand"))
    yield line("backed up and checked", seconds, rows, backup.size)
    seconds, _ = timed(lambda: restore(backup.path, lambda _: None))
    yield line("kept, restored", seconds, rows)
    for path in backups_folder().glob("studio-*.zip"):
        path.unlink()


def timed(call: Callable[[], Result]) -> tuple[float, Result]:
    start = perf_counter()
    result = call()
    return perf_counter() - start, result


def line(label: str, seconds: float, rows: int, size: int = 0) -> str:
    return f"{label:26}{seconds:8.1f} s{rows / seconds:12,.0f} rows/s" + (
        f"{size / 1_000_000:8.1f} MB" if size else ""
    )
