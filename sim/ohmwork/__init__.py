"""Ohmwork: finding electrical faults in vehicles, on circuits that behave as real ones.

The path is always vehicle, fault, operating point, reading, conclusion.
"""

from ohmwork.bench import Bench
from ohmwork.course import course_folder
from ohmwork.errors import OhmworkError
from ohmwork.faults import Fault, inject
from ohmwork.job import ask, open_workbench, start_job, start_practice
from ohmwork.network import operating_point
from ohmwork.progress import contents
from ohmwork.vehicle import Vehicle, load_vehicle

__all__ = [
    "Bench",
    "Fault",
    "OhmworkError",
    "Vehicle",
    "ask",
    "contents",
    "course_folder",
    "inject",
    "load_vehicle",
    "open_workbench",
    "operating_point",
    "start_job",
    "start_practice",
]
