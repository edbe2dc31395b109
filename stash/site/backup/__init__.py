"""Backups: `keeping` knows the files, `making` makes and checks one, `restoring` takes one back, `daily` makes one a day."""
