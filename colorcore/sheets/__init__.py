"""What is printed or exported."""

from colorcore.sheets.folder import OutputFolder, output_folder
from colorcore.sheets.plan_csv import plan_csv
from colorcore.sheets.plan_json import PlanFile, plan_bytes, plan_document, read_plan
from colorcore.sheets.view import PlanView, view_plan

__all__ = [
    "OutputFolder",
    "PlanFile",
    "PlanView",
    "output_folder",
    "plan_bytes",
    "plan_csv",
    "plan_document",
    "read_plan",
    "view_plan",
]
