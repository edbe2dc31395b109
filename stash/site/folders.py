"""Where the studio's files are kept, in its data folder."""

from pathlib import Path

from django.conf import settings


def photos_folder() -> Path:
    return Path(settings.DATA) / "media" / "photos"


def backups_folder() -> Path:
    return Path(settings.DATA) / "backups"
