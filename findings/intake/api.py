"""Doors of the intake: try a file, take a file, and the saved mappings."""

from __future__ import annotations

import dataclasses
from typing import Any, ClassVar

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.parsers import MultiPartParser
from rest_framework.response import Response

from findings.intake import actions, queries
from findings.intake.files import MOST_BYTES
from findings.intake.rules import (
    DEFAULT_MAPPING,
    ColumnMapping,
    FileKind,
    RowVerdict,
    Strictness,
    mapping_from_json,
)
from findings.plant.rules import Right
from plantcare.api import filtering, shapes
from plantcare.api.parsers import loads
from plantcare.api.problems import FieldError, Invalid
from plantcare.api.references import Reference
from plantcare.api.views import ChangeDoor, CreateDoor, DetailDoor, Door, ListDoor

KINDS = [(kind.value, kind.value) for kind in FileKind]
YES_OR_NO = [("true", "true"), ("false", "false")]


class MappingShape(shapes.Shape):
    """A saved column mapping."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    name = shapes.TextField()
    kind = shapes.ChoiceField(choices=KINDS)
    settings = shapes.JsonObjectField()
    version = shapes.IntegerField()


class MappingInput(shapes.InputShape):
    """A new mapping."""

    site_id = shapes.UuidField()
    name = shapes.TextField(max_length=100)
    kind = shapes.ChoiceField(choices=KINDS)
    settings = shapes.JsonObjectField()


class MappingChange(shapes.InputShape):
    """What of a mapping may change."""

    name = shapes.TextField(max_length=100, required=False)
    settings = shapes.JsonObjectField(required=False)


class MappingFilters(filtering.StrictFilterSet):
    """Narrow the mappings."""

    site_id = filtering.UuidFilter()
    kind = filtering.ChoicesFilter(choices=KINDS)


class Mappings(CreateDoor, ListDoor):
    """Saved mappings."""

    noun, room = "mapping", "intake"
    needs: ClassVar = {"GET": Right.VIEW, "POST": Right.RECORD}
    shape, input_shape, filterset_class = MappingShape, MappingInput, MappingFilters
    orderings: ClassVar = {"name": ("name",)}

    def rows(self) -> QuerySet[Any]:
        """Return the mappings."""
        return queries.mappings()

    def act(self, data: dict[str, Any]) -> Any:
        """Save one."""
        return actions.save_mapping(actor=self.actor, at=self.at, **data)


class Mapping(ChangeDoor):
    """One saved mapping."""

    noun, room = "mapping", "intake"
    needs: ClassVar = {"GET": Right.VIEW, "PATCH": Right.RECORD}
    shape, input_shape = MappingShape, MappingChange

    def rows(self) -> QuerySet[Any]:
        """Return the mappings."""
        return queries.mappings()

    def change(self, obj: Any, data: dict[str, Any]) -> Any:
        """Change its name or columns."""
        return actions.change_mapping(
            actor=self.actor, at=self.at, mapping_id=obj.pk, version=int(self.version or 0), **data
        )


class NoteShape(shapes.Shape):
    """Why a row is as it is."""

    column = shapes.TextField()
    code = shapes.TextField()
    text = shapes.TextField()


class RowShape(shapes.Shape):
    """What became of one row."""

    row = shapes.IntegerField()
    verdict = shapes.ChoiceField(choices=[(verdict.value, verdict.value) for verdict in RowVerdict])
    notes = NoteShape(many=True)
    outcome = shapes.TextField()
    made_kind = shapes.TextField()
    made_id = shapes.UuidField(allow_null=True)


class CountsShape(shapes.Shape):
    """How many rows met each verdict."""

    taken = shapes.IntegerField()
    doubtful = shapes.IntegerField()
    refused = shapes.IntegerField()
    known = shapes.IntegerField()
    blank = shapes.IntegerField()


class ResultShape(shapes.Shape):
    """The outcome of a run, or of trying it."""

    import_id = shapes.UuidField(allow_null=True)
    kind = shapes.ChoiceField(choices=KINDS)
    is_dry_run = shapes.BooleanField()
    taken_before = shapes.BooleanField()
    counts = CountsShape()
    columns = serializers.DictField(child=serializers.CharField())
    rows = RowShape(many=True)


class TryInput(shapes.InputShape):
    """A file and how to read it (multipart/form-data)."""

    file = shapes.FileField(max_bytes=MOST_BYTES, help_text="CSV or XLSX, at most 20 MB and 5,000 rows.")
    site_id = shapes.UuidField()
    kind = shapes.ChoiceField(choices=KINDS, default=FileKind.SURVEY.value)
    mapping_id = shapes.UuidField(required=False, help_text="A saved mapping of the site.")
    mapping = shapes.TextField(
        required=False, max_length=100_000, help_text="A mapping as JSON text, in place of a saved one."
    )
    accept_doubtful = shapes.ChoiceField(choices=YES_OR_NO, default="false")


class ImportInput(TryInput):
    """As trying, and what a bad row means."""

    strictness = shapes.ChoiceField(
        choices=[(way.value, way.value) for way in Strictness], default=Strictness.ALL_OR_NOTHING.value
    )


class ImportShape(shapes.Shape):
    """A file that was taken."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    kind = shapes.ChoiceField(choices=KINDS)
    file_name = shapes.TextField()
    strictness = shapes.TextField()
    at = shapes.AwareDateTimeField()
    counts = CountsShape()


class ImportDetailShape(ImportShape):
    """A file that was taken, with its rows."""

    report = RowShape(many=True)


class ImportFilters(filtering.StrictFilterSet):
    """Narrow the imports."""

    site_id = filtering.UuidFilter()
    kind = filtering.ChoicesFilter(choices=KINDS)


class _FileDoor(Door):
    """What trying and taking a file share."""

    room = "intake"
    parser_classes = (MultiPartParser,)
    shape: ClassVar[type[shapes.Shape]] = ResultShape
    references: ClassVar = {"mapping_id": Reference(queries.mappings)}

    def run(self, data: dict[str, Any], *, strictness: Strictness, dry_run: bool) -> dict[str, Any]:
        """Hand the file to the one road for both."""
        named = self.clear({name: value for name, value in data.items() if name in {"site_id", "mapping_id"}})
        kind = FileKind(data["kind"])
        upload = data["file"]
        result = actions.import_file(
            actor=self.actor,
            at=self.at,
            site_id=data["site_id"],
            kind=kind,
            content=upload.read(),
            file_name=upload.name,
            mapping=_mapping_of(data, named, kind),
            strictness=strictness,
            accept_doubtful=data["accept_doubtful"] == "true",
            dry_run=dry_run,
        )
        return {field.name: getattr(result, field.name) for field in dataclasses.fields(result)}


def _mapping_of(data: dict[str, Any], named: dict[str, Any], kind: FileKind) -> ColumnMapping:
    if data.get("mapping_id") and data.get("mapping"):
        text = "Send a saved mapping's id or a mapping, not both."
        raise Invalid(errors=[FieldError("/mapping", "one_of_two", text)])
    saved = named.get("/mapping_id")
    if saved is not None:
        document = saved.settings
    elif data.get("mapping"):
        document = loads(data["mapping"])
    else:
        return DEFAULT_MAPPING
    mapping, problems = mapping_from_json(document, kind)
    if problems:
        raise Invalid(
            errors=[FieldError(f"/mapping{one.pointer}", "mapping_wrong", one.text) for one in problems]
        )
    return mapping


class ImportTrials(_FileDoor):
    """Try a file (a dry run): every row with its verdict and why, and nothing is kept."""

    operation = "import_try"
    needs: ClassVar = {"POST": Right.RECORD}
    input_shape = TryInput

    def post(self, *_: Any, **__: Any) -> Response:
        """Run the file and take it back."""
        data = self.take()
        return self.answer(self.run(data, strictness=Strictness.GOOD_ROWS, dry_run=True))


class Imports(_FileDoor, ListDoor):
    """Take a file; list the files that were taken."""

    noun = "import"
    verbs: ClassVar = {"GET": "list", "POST": "create"}
    needs: ClassVar = {"GET": Right.VIEW, "POST": Right.RECORD}
    creates = True
    shape, input_shape, filterset_class = ImportShape, ImportInput, ImportFilters
    orderings: ClassVar = {"-at": ("-at",)}

    def rows(self) -> QuerySet[Any]:
        """Return the imports."""
        return queries.imports()

    def post(self, *_: Any, **__: Any) -> Response:
        """Take the file, or tell that it was taken before."""
        data = self.take()
        result = self.run(data, strictness=Strictness(data["strictness"]), dry_run=False)
        status = 200 if result["taken_before"] else 201
        response = self.answer(result, shape=ResultShape, status=status)
        response.headers["Location"] = f"{self.request.path.rstrip('/')}/{result['import_id']}"
        return response


class Import(DetailDoor):
    """One file that was taken, with what became of each row."""

    noun, room = "import", "intake"
    needs: ClassVar = {"GET": Right.VIEW}
    shape = ImportDetailShape
    conditional = False

    def rows(self) -> QuerySet[Any]:
        """Return the imports."""
        return queries.imports()
