"""A fixed cast of users, one studio, and a database whose flush is not stopped by the ledger's guards."""

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import connection
from django.db.models.signals import post_migrate
from django.test import SimpleTestCase, TestCase
from whitenoise.base import WhiteNoise

from stash.models import Person, Role, Studio, guards, usual_use
from tests.factories import PersonFactory, StudioFactory

ASK_FOR_A_DATABASE = {"db", "transactional_db", "django_db_reset_sequences", "django_db_serialized_rollback"}


def pytest_sessionstart(session):
    """Pages name their files by hash, as they are served: the files are collected once, before any worker."""
    if not hasattr(session.config, "workerinput"):
        call_command("collectstatic", interactive=False, verbosity=0)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """A test that asks for no database is refused one, so it says the same on every: once is enough."""
    for item in items:
        asks = item.get_closest_marker("django_db") or not ASK_FOR_A_DATABASE.isdisjoint(item.fixturenames)
        if not asks and not issubclass(item.cls or object, SimpleTestCase):
            item.add_marker("once")


@pytest.fixture(scope="session", autouse=True)
def static_files_walked_once():
    """Each test client builds the middleware anew; the folder of static files is walked for the first one only."""
    walk, walked = WhiteNoise.update_files_dictionary, {}

    def fill(self, root, prefix):
        if (root, prefix) not in walked:
            files, self.files = self.files, {}
            walk(self, root, prefix)
            walked[root, prefix], self.files = self.files, files
        self.files.update(walked[root, prefix])

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(WhiteNoise, "update_files_dictionary", fill)
        yield


@pytest.fixture(autouse=True)
def no_use_known():
    """What was read of the ledger of one test is forgotten before the next, which may write other entries by the same
    keys."""
    usual_use.forget()


def _unguard() -> None:
    post_migrate.disconnect(sender=apps.get_app_config("stash"), dispatch_uid="stash-ledger-guards")
    for name in guards.NAMES:
        guards.drop(connection.alias, name)


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker):
    """The guards stop Django's flush, and the flush would make them anew: tests that attack them take `guarded`."""
    with django_db_blocker.unblock():
        _unguard()


@pytest.fixture(scope="module")
def shared_rows(django_db_setup, django_db_blocker):
    """What a fixture of a module writes under this stands for all tests of that module, each of which undoes its own.

    For modules of tests that take `db` alone: a transactional test would flush it away.
    """

    class Shared(TestCase):
        pass

    with django_db_blocker.unblock():
        Shared.setUpClass()
        yield
        Shared.tearDownClass()
        Shared.doClassCleanups()


@pytest.fixture
def guarded(db):
    """The ledger's guards, as every real database has them, and made anew after every migrate."""
    apps.get_app_config("stash").ready()
    guards.install(connection.alias)
    yield
    if connection.needs_rollback:
        post_migrate.disconnect(sender=apps.get_app_config("stash"), dispatch_uid="stash-ledger-guards")
    else:
        _unguard()


@pytest.fixture
def studio(db) -> Studio:
    return StudioFactory()


@pytest.fixture
def owner(studio) -> Person:
    return PersonFactory(username="mara", name="Mara", role=Role.OWNER)


@pytest.fixture
def helper(studio) -> Person:
    return PersonFactory(username="jon", name="Jon", role=Role.HELPER)


@pytest.fixture
def viewer(studio) -> Person:
    return PersonFactory(username="vida", name="Vida", role=Role.VIEWER)


@pytest.fixture
def as_owner(client, owner):
    client.force_login(owner)
    return client


@pytest.fixture
def as_helper(client, helper):
    client.force_login(helper)
    return client


@pytest.fixture
def as_viewer(client, viewer):
    client.force_login(viewer)
    return client
