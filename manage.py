#!/usr/bin/env python
"""Warpshelf's commands; `python manage.py help` lists them."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stash.site.settings")
    try:
        from django.core.management import execute_from_command_line
    except ImportError as error:
        raise SystemExit(
            "Django is not installed in this Python. The README's first block makes a .venv with all that is needed."
        ) from error
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
