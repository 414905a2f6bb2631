"""What the intake does: save mappings, try a file, take a file."""

from findings.intake.actions.files import ImportRefused, ImportResult, MappingUnfit, import_file
from findings.intake.actions.mappings import change_mapping, save_mapping

__all__ = ["ImportRefused", "ImportResult", "MappingUnfit", "change_mapping", "import_file", "save_mapping"]
