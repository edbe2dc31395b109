#!/usr/bin/env python
"""Warpshelf's commands; `python manage.py help` lists them. `--data FOLDER` goes with every one."""

import argparse
import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stash.site.settings")
    try:
        from django.core.exceptions import ImproperlyConfigured
        from django.core.management import execute_from_command_line
    except ImportError as error:
        raise SystemExit(
            "Django is not installed in this Python. The README's first block makes a .venv with all that is needed."
        ) from error
    try:
        execute_from_command_line([sys.argv[0], *name_environment(sys.argv[1:])])
    except ImproperlyConfigured as error:
        raise SystemExit(f"The settings cannot be used. {error}") from error


def name_environment(arguments: list[str]) -> list[str]:
    """Settings read the environment, so what two options say is put there before they load: the data folder, and
    that the network is served. The latter stays for `start` to see."""
    parser = argparse.ArgumentParser(
        add_help=False, allow_abbrev=False, usage="manage.py COMMAND --data FOLDER"
    )
    parser.add_argument("--data")
    named, others = parser.parse_known_args(arguments)
    if others[:1] == ["start"]:
        parser.add_argument("--network", nargs="?", const="1")
        asked = parser.parse_known_args(arguments)[0].network
        if asked is not None:
            os.environ["WARPSHELF_NETWORK"] = asked or "1"
    if named.data == "":
        parser.error("--data names no folder")
    if named.data:
        os.environ["WARPSHELF_DATA"] = named.data
    return others


if __name__ == "__main__":
    main()
