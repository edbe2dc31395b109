"""A fixed cast of users, one studio, and a database whose flush is not stopped by the ledger's guards."""

import pytest
from django.core.management import call_command
from django.db import connection

from stash.models import Person, Role, Studio, guards
from tests.factories import PersonFactory, StudioFactory


def pytest_sessionstart(session):
    """Pages name their files by hash, as they are served: the files are collected once, before any worker."""
    if not hasattr(session.config, "workerinput"):
        call_command("collectstatic", interactive=False, verbosity=0)


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker):
    """A DELETE trigger stops Django's flush on SQLite: tests that attack the guards install them anew."""
    with django_db_blocker.unblock():
        for name in guards.NAMES:
            guards.drop("default", name)


@pytest.fixture
def guarded(db):
    """The ledger's guards, as every real database has them."""
    guards.install(connection.alias)
    yield
    if not connection.needs_rollback:
        for name in guards.NAMES:
            guards.drop(connection.alias, name)


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
