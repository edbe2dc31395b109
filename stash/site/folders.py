"""Where the studio's files are kept, in its data folder."""

from pathlib import Path

from django.conf import settings

from stash.services.photos import photos_folder

__all__ = ["backups_folder", "photos_folder"]


def backups_folder() -> Path:
    return Path(settings.DATA) / "backups"
