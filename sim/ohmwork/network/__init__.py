"""The solver: from a vehicle and its controls to the voltages of every place."""

from ohmwork.network.operating_point import (
    Attachment,
    Guide,
    OperatingPoint,
    Setup,
    position,
)
from ohmwork.network.solver import Network, operating_point

MODEL_VERSION = 3
"""Goes up whenever the same vehicle and the same acts would give other readings."""

__all__ = [
    "MODEL_VERSION",
    "Attachment",
    "Guide",
    "Network",
    "OperatingPoint",
    "Setup",
    "operating_point",
    "position",
]
