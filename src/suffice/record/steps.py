"""Bringing tables up to date in steps that happen whole or not at all.

Django notes a step apart from what it does, in a transaction of its own, where keys to other tables are to
be made at its end. A program that is stopped between the two leaves a step that is done and not noted: no
start could do it again, nor go on from it.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.core.management import call_command
from django.core.management.commands import migrate
from django.db.migrations.executor import MigrationExecutor


class InOneTransaction(MigrationExecutor):
    """Notes each step in the transaction that does it."""

    def apply_migration(
        self, state: Any, migration: Any, fake: bool = False, fake_initial: bool = False
    ) -> Any:
        """Do a step, what it left for its end included, and note it."""
        if fake or fake_initial or not migration.atomic:
            return super().apply_migration(state, migration, fake, fake_initial)
        if self.progress_callback:
            self.progress_callback("apply_start", migration, fake)
        with self.connection.schema_editor(atomic=True) as editor:
            state = migration.apply(state, editor)
            for statement in editor.deferred_sql:
                editor.execute(statement)
            editor.deferred_sql.clear()
            self.record_migration(migration)  # type: ignore[call-arg]  # the stubs ask for a name
        if self.progress_callback:
            self.progress_callback("apply_success", migration, fake)
        return state


def bring_up_to_date() -> None:
    """Do every step that has not been done.

    Raises:
        DatabaseError: When the database cannot be changed; the steps before are done and noted.
    """
    with _djangos_command_doing_so():
        call_command("migrate", verbosity=0, interactive=False)


@contextmanager
def _djangos_command_doing_so() -> Iterator[None]:
    """The command takes its executor by name and from nobody, and does more than that executor does."""
    command: Any = migrate
    usual = command.MigrationExecutor
    command.MigrationExecutor = InOneTransaction
    try:
        yield
    finally:
        command.MigrationExecutor = usual
