"""Exclusion constraints over ids and time ranges need btree_gist; it is a trusted extension since PostgreSQL 13."""

from django.contrib.postgres.operations import BtreeGistExtension
from django.db import migrations


class Migration(migrations.Migration):
    initial = True
    dependencies = []
    operations = [BtreeGistExtension()]
