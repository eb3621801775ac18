"""Rows of the record that a process computes once and puts back for each test that asks for them.

A family that is opened is assessed, chained and listed each time; of thirty tests that begin with the same
families one does so, and the others find what it left.
"""
# ruff: noqa: PLC0415 -- nothing of Django may be imported before it is set up

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from django.db.models import Model


class KeptRows:
    """What `make` adds to the record, in an order in which it can be stored.

    They are put back beside what other fixtures stored only where that is what was there when they were made.
    """

    def __init__(self, make: Callable[..., object]) -> None:
        self._make = make
        self._rows: list[Model] = []
        self._of: tuple[object, ...] = ()

    def put(self, *of: object) -> None:
        """Make them, or put them back where they were made of the same arguments before."""
        from django.apps import apps

        models = list(apps.get_app_config("record").get_models())

        def stored() -> list[Model]:
            return [row for model in models for row in model._base_manager.all()]

        if not self._rows or self._of != of:
            # What another fixture or a migration stored is there already.
            there = {(type(row), row.pk): vars(row) | {"_state": None} for row in stored()}
            self._make(*of)
            self._of = of
            after = stored()
            self._rows = [row for row in after if (type(row), row.pk) not in there]
            for row in after:
                was = there.get((type(row), row.pk))
                assert was in (None, vars(row) | {"_state": None}), f"changed and not kept: {row}"
            return
        for model in models:
            rows = [copy.copy(row) for row in self._rows if type(row) is model]
            model._base_manager.bulk_create(rows)
