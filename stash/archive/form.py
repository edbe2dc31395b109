"""What every archive has: its name, its version, the names and the limits of its files."""

import re

FORMAT = "warpshelf-studio"
VERSION = 3
"""Of what is written. All versions from 1 on are read; `schema.md` says what came with which."""
SCHEMA = "stash/archive/schema.md"
SUFFIX = ".warpshelf"

HEAD = "archive.json"
SIGN_INS = "sign-ins.jsonl"
PHOTOS = "photos/"
EPOCH = (1980, 1, 1, 0, 0, 0)
"""The time of every file in the archive: the earliest that a zip can say."""

MOST_HEAD = 16_000_000
MOST_LINE = 1_000_000

PHOTO_NAME = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.-]{0,79}\Z")
"""A plain file name: no folder, no drive, nothing hidden."""
