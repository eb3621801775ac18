"""A record as an older version left it, brought up to date, undisturbed or killed at some statement.

    python upgrader.py begin STATE      tables and data as the migration STATE leaves them
    python upgrader.py upgrade          brings them up to date; prints what is there then
    python upgrader.py killed COUNT     as often as COUNT: a copy of them, killed in the middle, then finished
    python upgrader.py torn             a copy of them, upgraded: says "begins" and "done", to be killed in between
    python upgrader.py finish           what is there after that; brings it up to date, what is there then
    python upgrader.py copy FILE        restores the copy of before FILE into the empty record of its own

Each prints JSON. Run by test_upgrade.py, with the database in its environment.
"""
# ruff: noqa: PLC0415 -- models can be imported only once Django is set up

from __future__ import annotations

import json
import os
import shutil
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any
from uuid import UUID

import django

AT = datetime(2026, 5, 1, 6, 0, 0, 500_000, tzinfo=UTC)
ENTRIES = 40
KEPT = ("record_family", "record_infant", "record_entry", "record_policyversion", "record_arrival")
CHAINED = {"Link", "ChainHead", "Seal", "TrailEvent", "Arrival", "PolicyVersion", "Erasure"}
CHAINED_SINCE = {"Placement": "0014"}
"""Tables whose rows have links since a state: before it they are bound by the upgrade."""
KILLED = 9


def key(of: str, number: int) -> UUID:
    return UUID(int=(1 + ("family", "infant", "entry", "policy", "row").index(of)) * 10**6 + number)


def begin(state: str) -> None:
    """Make the tables as `state` leaves them and put data into each."""
    from django.core.management import call_command
    from django.db import connection, transaction
    from django.db.migrations.executor import MigrationExecutor

    call_command("migrate", "record", state, verbosity=0)
    for app in ("auth", "contenttypes", "sessions"):
        call_command("migrate", app, verbosity=0)
    apps = MigrationExecutor(connection).loader.project_state([("record", state)]).apps
    with transaction.atomic():
        put_users(apps)
        put_families(apps)
        put_rest(apps, state)
        if "record_link" in connection.introspection.table_names():
            from suffice.record import chain_start

            chain_start.start()


def put(apps: Any, name: str, **values: Any) -> Any:
    """A row of a model as it was: fields that it has not yet are left out, the others filled by their type."""
    model = apps.get_model("record", name)
    there = {}
    for field in model._meta.concrete_fields:
        if field.name in values or field.attname in values:
            there[field.attname] = values.get(field.attname, values.get(field.name))
        elif not (field.has_default() or field.null or field.get_internal_type() == "BigAutoField"):
            there[field.attname] = plain(apps, field)
    return model.objects.create(**there)


def plain(apps: Any, field: Any) -> Any:
    if field.is_relation:
        related = field.related_model._meta
        found = apps.get_model(related.app_label, related.object_name).objects.first()
        return found.pk
    return {
        "TextField": "x",
        "DateTimeField": AT,
        "DateField": AT.date(),
        "BooleanField": False,
        "UUIDField": key("row", 1),
        "JSONField": {},
        "FloatField": 1.5,
    }.get(field.get_internal_type(), 1)


def put_users(apps: Any) -> None:
    from django.contrib.auth.models import User

    User.objects.create(username="marta", password="!", is_staff=True)
    User.objects.create(username="second", password="!")


def put_families(apps: Any) -> None:
    names = {model.__name__ for model in apps.get_app_config("record").get_models()}
    # Once there are chains, an import's is made with its rows, by the program.
    has_imports = "Arrival" in names and "Link" not in names
    for number, arrival in enumerate([None, *([4] if has_imports else [])]):
        family, infant = key("family", number), key("infant", number)
        put(apps, "Family", id=family, opened_at=AT, opened_by="marta", arrival=arrival)
        put(apps, "Infant", id=infant, family_id=family, position=1, arrival=arrival)
        for entry in range(ENTRIES):
            fact = {"kind": "weight", "weight_g": 3000.0 + entry, "clothing": "naked"}
            put_entry(apps, 1000 * number + entry, family, infant, fact, arrival=arrival)
        of = key("entry", 1000 * number)
        right = {"kind": "weight", "weight_g": 3050.0}
        put_entry(apps, 1000 * number + 900, family, infant, right, replaces_id=of, arrival=arrival)
    if has_imports:
        put(apps, "Arrival", number=4, arrived_at=AT, opened_count=1, entry_count=ENTRIES + 1)
    policy = {"zone": "Europe/Madrid", "clinic_name": "Clínica de ejemplo"}
    put(
        apps, "PolicyVersion", id=key("policy", 1), entered_at=AT, entered_by="marta", policy=policy
    )


def put_entry(
    apps: Any, number: int, family: UUID, infant: UUID, fact: dict[str, Any], **more: Any
) -> None:
    put(
        apps,
        "Entry",
        id=key("entry", number),
        family_id=family,
        infant_id=infant,
        kind=fact["kind"],
        basis="measured",
        true_at=AT,
        entered_at=AT,
        entered_by="marta",
        device="scale 1" if number % 2 else None,
        fact=fact,
        **more,
    )


def put_rest(apps: Any, state: str) -> None:
    """One row of every other table that there is."""
    for model in apps.get_app_config("record").get_models():
        name = model.__name__
        is_chained = name in CHAINED or state >= CHAINED_SINCE.get(name, "9999")
        if not is_chained and not model.objects.exists():
            put(apps, name, state="done", role="lead", payload="{}")


def stored(columns: dict[str, list[str]] | None = None) -> dict[str, Any]:
    """What is on the record, column by column: those that there are, or those of before."""
    from django.db import connection

    found: dict[str, Any] = {}
    there = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for table in KEPT if columns is None else columns:
            if table in there:
                described = connection.introspection.get_table_description(cursor, table)
                names = [one.name for one in described] if columns is None else columns[table]
                texts = ", ".join(f"CAST({name} AS text)" for name in names)
                cursor.execute(f"SELECT {texts} FROM {table}")
                rows = sorted([list(row) for row in cursor.fetchall()], key=str)
                found[table] = {"columns": names, "rows": rows}
    return found


def kept(home: Path) -> Path:
    return home / "as-it-was.json"


def is_as_it_was(home: Path) -> bool:
    before = json.loads(kept(home).read_text(encoding="utf-8"))
    now = stored({table: one["columns"] for table, one in before.items()})
    return bool(now == before)


def looked(home: Path) -> dict[str, Any]:
    """What is there after an upgrade; the program reads and writes it as ever."""
    from django.db import connection

    from suffice.clinical.entry import Basis, Entry, Weight
    from suffice.record import append_only, repository, state
    from suffice.record.verify import verify

    as_it_was, found = is_as_it_was(home), verify().found
    ids = repository.family_ids()
    records = repository.read_many(ids)
    entry = Entry(
        id=key("entry", 999_999),
        fact=Weight(weight_g=3333.0),
        basis=Basis.MEASURED,
        true_at=AT,
        entered_at=AT,
        entered_by="marta",
        infant_id=records[ids[0]].infants[0].id,
    )
    appended = repository.append(ids[0], [entry])
    return {
        "as_it_was": as_it_was,
        "wrong": [str(one) for one in found],
        "wrong_after": [str(one) for one in verify().found],
        "pending": state.pending_migrations(),
        "missing": append_only.missing(connection),
        "families": len(records),
        "entries": sum(len(record.entries) for record in records.values()),
        "appended": len(appended.new),
    }


def upgrade() -> str:
    from suffice.care.upgrade import bring_up_to_date

    done = bring_up_to_date(now=datetime.now(UTC))
    return "" if done is None or done.copy is None else str(done.copy.path)


def counted(kill_at: int) -> int:
    """Upgrade; how many statements that took. The process ends without a word at the one of that number."""
    from django.db import connection

    count = 0

    def count_and_kill(execute: Callable[..., Any], *args: Any) -> Any:
        nonlocal count
        count += 1
        if count == kill_at:
            os._exit(KILLED)
        return execute(*args)

    with connection.execute_wrapper(count_and_kill):
        upgrade()
    return count


NOTED = 'INSERT INTO "django_migrations"'


def noted(kill_at: int) -> int:
    """Upgrade; how many steps were noted. The process ends without a word before the note of that number."""
    from django.db import connection

    count = 0

    def count_and_kill(execute: Callable[..., Any], sql: str, *args: Any) -> Any:
        nonlocal count
        if sql.startswith(NOTED):
            count += 1
            if count == kill_at:
                os._exit(KILLED)
        return execute(sql, *args)

    with connection.execute_wrapper(count_and_kill):
        upgrade()
    return count


def apart(work: Callable[[], Any]) -> tuple[int, Any]:
    """Do it in a child of this process; how that ended, and what it came to."""
    from django.db import connections

    connections.close_all()
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.write(writer, json.dumps(work()).encode())
            os._exit(0)
        finally:
            os._exit(1)
    os.close(writer)
    with os.fdopen(reader, "rb") as answer:
        said = answer.read()
    _pid, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status), json.loads(said) if said else None


def again(home: Path, url: str) -> None:
    """The record as it was begun, once more; its copies of before go."""
    if url:
        import psycopg

        name = url.rpartition("/")[2]
        with psycopg.connect(f"{url.rpartition('/')[0]}/postgres", autocommit=True) as server:
            server.execute(f'DROP DATABASE "{name}" WITH (FORCE)')
            server.execute(f'CREATE DATABASE "{name}" TEMPLATE "{name}_begun"')
    else:
        for ending in ("", "-wal", "-shm"):
            (home / f"suffice.sqlite3{ending}").unlink(missing_ok=True)
        shutil.copy(home / "begun.sqlite3", home / "suffice.sqlite3")
    shutil.rmtree(home / "before-upgrade", ignore_errors=True)


def killed(home: Path, url: str, times: int) -> list[dict[str, Any]]:
    """Kill an upgrade at so many places, spread over all of its statements; finish it each time."""
    again(home, url)
    ended, count = apart(lambda: counted(0))
    assert ended == 0, ended
    told = []
    for place in range(1, times + 1):
        again(home, url)
        ended, _ = apart(partial(counted, max(1, place * count // (times + 1))))
        assert ended == KILLED, (ended, place, count)
        half = apart(lambda: is_as_it_was(home))[1]
        finished, _ = apart(upgrade)
        told.append({"half": half, "finished": finished, **(apart(lambda: looked(home))[1] or {})})
    return told


def unnoted(home: Path, url: str, nth: int) -> list[dict[str, Any]]:
    """Kill an upgrade before each nth of its steps and the last is noted; finish it each time."""
    again(home, url)
    ended, count = apart(lambda: noted(0))
    assert ended == 0, ended
    told = []
    for place in sorted({*range(1, count, nth), count}):
        again(home, url)
        ended, _ = apart(partial(noted, place))
        assert ended == KILLED, (ended, place, count)
        half = apart(lambda: is_as_it_was(home))[1]
        finished, _ = apart(upgrade)
        told.append({"half": half, "finished": finished, **(apart(lambda: looked(home))[1] or {})})
    return told


def torn(home: Path, url: str) -> None:
    """Upgrade a copy of the record; whoever reads what this says kills it at a moment of its own."""
    again(home, url)
    print("begins", flush=True)
    upgrade()
    print("done", flush=True)


def finish(home: Path) -> dict[str, Any]:
    """What a killed upgrade left, and what is there once the next start has gone on."""
    from suffice.record import state

    half, at = is_as_it_was(home), state.newest_migration()
    copies = sorted((home / "before-upgrade").glob("*.backup"))
    upgrade()
    return {"half": half, "at": at, "copies": [str(one) for one in copies], **looked(home)}


def main(act: str, *given: str) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "suffice.web.site.settings")
    django.setup()
    from django.conf import settings

    home, url = Path(settings.HOME), os.environ.get("DATABASE_URL", "")
    if act == "begin":
        begin(given[0])
        kept(home).write_text(json.dumps(stored()), encoding="utf-8")
        said: Any = {table: len(one["rows"]) for table, one in stored().items()}
    elif act == "upgrade":
        said = {"copy": upgrade(), **looked(home)}
    elif act == "torn":
        torn(home, url)
        return
    elif act == "finish":
        said = finish(home)
    elif act == "killed":
        said = killed(home, url, int(given[0]))
    elif act == "unnoted":
        said = unnoted(home, url, int(given[0]))
    else:
        from suffice.care.backup.key import read_key
        from suffice.care.backup.restoring import restore

        before = Path(given[0])
        restore(before, read_key(before.parents[1] / "before-upgrade-key"))
        shutil.copy(kept(before.parents[1]), kept(home))
        said = looked(home)
    print(json.dumps(said))


if __name__ == "__main__":
    main(*sys.argv[1:])
