"""The bench sheet: one self-contained HTML page of a unit to print or to carry on the phone."""

from pipeline.output.sheet.files import SheetError, write_sheet
from pipeline.output.sheet.page import sheet

__all__ = ["SheetError", "sheet", "write_sheet"]
