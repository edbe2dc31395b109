"""When somebody should look after the backups."""

from datetime import timedelta

from django.utils import timezone
from django.utils.formats import date_format

from stash.models import Studio
from stash.site.backup.keeping import all_backups, last_failure, last_good

TOO_OLD = timedelta(days=3)


def backup_warning(studio: Studio) -> str:
    """A sentence if the last attempt failed or the last good backup is too old; "" if all is well.

    A studio younger than that needs none yet.
    """
    now, failure, good = timezone.now(), last_failure(), last_good(all_backups())
    since = good.made_at if good else studio.made_at
    if failure is not None:
        when = date_format(timezone.localtime(failure.at), "j F, H:i")
        return f"The backup of {when} failed. {failure.words}"
    if now - since <= TOO_OLD:
        return ""
    if good is None:
        return "There is no good backup of this studio yet."
    return f"The last good backup is {(now - since).days} days old."
