"""The record as a Django app."""

from __future__ import annotations

from django.apps import AppConfig


class RecordConfig(AppConfig):
    """Families, infants, entries, policies: appended to, never changed."""

    name = "suffice.record"
    label = "record"
    default_auto_field = "django.db.models.BigAutoField"
