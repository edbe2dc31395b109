"""The WSGI application, for `start` and for any other server."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stash.site.settings")

application = get_wsgi_application()
