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
        execute_from_command_line([sys.argv[0], *name_data_folder(sys.argv[1:])])
    except ImproperlyConfigured as error:
        raise SystemExit(f"The settings cannot be used. {error}") from error


def name_data_folder(arguments: list[str]) -> list[str]:
    """Settings read the data folder from the environment, so it is put there before they load."""
    parser = argparse.ArgumentParser(
        add_help=False, allow_abbrev=False, usage="manage.py COMMAND --data FOLDER"
    )
    parser.add_argument("--data")
    named, others = parser.parse_known_args(arguments)
    if named.data == "":
        parser.error("--data names no folder")
    if named.data:
        os.environ["WARPSHELF_DATA"] = named.data
    return others


if __name__ == "__main__":
    main()
