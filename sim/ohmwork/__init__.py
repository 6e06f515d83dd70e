"""Ohmwork: finding electrical faults in vehicles, on circuits that behave as real ones.

The path is always vehicle, fault, operating point, reading, conclusion.
"""

from ohmwork.errors import OhmworkError
from ohmwork.vehicle import Vehicle, load_vehicle

__version__ = "0.1.0"

__all__ = ["OhmworkError", "Vehicle", "load_vehicle"]
