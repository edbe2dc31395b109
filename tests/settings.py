# ruff: noqa: F403
"""The studio's own settings, in a data folder that is thrown away: a run never touches a real studio's.

Processes that a run starts (workers, servers) use the folder that they are given.
"""

import atexit
import os
import shutil
import tempfile

if "WARPSHELF_TESTING" not in os.environ:
    os.environ["WARPSHELF_TESTING"] = "1"
    os.environ["WARPSHELF_DATA"] = tempfile.mkdtemp(prefix="warpshelf-tests-")
    atexit.register(shutil.rmtree, os.environ["WARPSHELF_DATA"], ignore_errors=True)

from stash.site.settings import *

# A slow hash guards real passwords; here it would only cost a quarter of a second a person.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
