"""The ledger only grows: its guards, attacked around the models, dropped and made anew."""

from collections.abc import Callable
from contextlib import contextmanager

import pytest
from django.core.checks import run_checks
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.db.models import F, ProtectedError

from stash.models import Entry, guards
from stash.services.books import check_books
from tests.books import assert_books_agree
from tests.factories import make_cone

on_sqlite = pytest.mark.skipif("connection.vendor != 'sqlite'", reason="SQLite's own way round")
on_postgres = pytest.mark.skipif("connection.vendor != 'postgresql'", reason="PostgreSQL's own way round")


@contextmanager
def refused():
    """Nothing is changed, and the refusal says what to do instead."""
    before = list(Entry.objects.order_by("pk").values())
    with pytest.raises(IntegrityError, match="put a mistake right by a further entry"), transaction.atomic():
        yield
    assert list(Entry.objects.order_by("pk").values()) == before


def run(sql: str) -> Callable[[], None]:
    def attack() -> None:
        with connection.cursor() as cursor:
            cursor.execute(sql)

    return attack


def _change_one() -> None:
    entry = Entry.objects.get()
    entry.change_mg += 1
    entry.save()


ATTACKS = {
    "update": lambda: Entry.objects.update(change_mg=F("change_mg") + 1),
    "update of a word": lambda: Entry.objects.update(reason="nothing to see"),
    "save": _change_one,
    "bulk_update": lambda: Entry.objects.bulk_update([Entry.objects.get()], ["reason"]),
    "upsert": lambda: Entry.objects.bulk_create(
        [Entry.objects.get()], update_conflicts=True, unique_fields=["id"], update_fields=["reason"]
    ),
    "delete": lambda: Entry.objects.all().delete(),
    "delete of one": lambda: Entry.objects.get().delete(),
    "delete by SQL": run("DELETE FROM stash_entry"),
    "update by SQL": run("UPDATE stash_entry SET after_mg = 0"),
}


@pytest.mark.parametrize("way", ATTACKS)
def test_an_entry_is_neither_changed_nor_removed(guarded, way):
    make_cone()
    with refused():
        ATTACKS[way]()


@on_sqlite
def test_sqlite_does_not_replace_an_entry_by_inserting_over_it(guarded):
    make_cone()
    columns = "cone_id, kind, change_mg, after_mg, reason, by_id, at"
    with refused():
        run(
            f"INSERT OR REPLACE INTO stash_entry (id, {columns}) "
            "SELECT id, cone_id, kind, 1, 1, reason, by_id, at FROM stash_entry"
        )()


@on_postgres
def test_postgres_does_not_truncate_the_ledger(guarded):
    make_cone()
    run("SET CONSTRAINTS ALL IMMEDIATE")()  # else the cone just made, not the guard, stands in the way
    with refused():
        run("TRUNCATE stash_entry CASCADE")()


def test_the_guards_let_new_entries_in(guarded):
    for _ in range(3):
        make_cone()
    assert Entry.objects.count() == 3
    assert_books_agree()


def test_a_cone_with_entries_and_the_person_who_wrote_them_stay(guarded):
    cone = make_cone()
    for row in (cone, cone.entries.get().by):
        with pytest.raises(ProtectedError):
            row.delete()


def test_the_whole_set_of_guards_stands_after_installing(guarded):
    assert guards.missing() == []
    guards.install()
    assert guards.missing() == []


def missing_by_check() -> list[str]:
    return [message.msg for message in run_checks(databases=["default"]) if message.id == "stash.W002"]


@pytest.mark.parametrize("name", guards.NAMES)
def test_a_dropped_guard_is_reported_and_made_anew_by_migrate(guarded, name):
    if name not in guards.wanted(connection):
        pytest.skip("a guard of the other database")
    guards.drop("default", name)

    assert guards.missing() == [name]
    (told,) = missing_by_check()
    assert name in told
    assert [fault.words for fault in check_books()] == [
        f"The guard {name} of the ledger is missing. Run migrate to make it anew."
    ]

    call_command("migrate", verbosity=0, skip_checks=False)

    assert guards.missing() == []
    assert missing_by_check() == []
    assert check_books() == []


@on_postgres
def test_a_guard_that_is_switched_off_counts_as_missing(guarded):
    run("ALTER TABLE stash_entry DISABLE TRIGGER stash_entry_no_update")()
    assert guards.missing() == ["stash_entry_no_update"]


@on_sqlite
@pytest.mark.django_db(transaction=True)
def test_sqlite_drops_guards_when_django_rebuilds_the_table_and_migrate_brings_them_back(guarded):
    """Why the guards are no migration: an altered table is made anew, and its triggers go in silence."""
    with connection.schema_editor() as editor:
        editor._remake_table(Entry)
    assert guards.missing() != []

    call_command("migrate", verbosity=0)

    assert guards.missing() == []


def test_a_guard_of_the_same_name_on_another_table_does_not_count(guarded):
    if connection.vendor != "sqlite":
        pytest.skip("trigger names are by table on PostgreSQL")
    guards.drop("default", "stash_entry_no_update")
    run("CREATE TRIGGER stash_entry_no_update BEFORE UPDATE ON stash_place BEGIN SELECT 1; END")()
    assert guards.missing() == ["stash_entry_no_update"]
