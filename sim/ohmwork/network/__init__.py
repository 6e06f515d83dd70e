"""The solver: from a vehicle and its controls to the voltages of every place."""

from ohmwork.network.operating_point import (
    Attachment,
    Network,
    OperatingPoint,
    Setup,
    operating_point,
)

__all__ = ["Attachment", "Network", "OperatingPoint", "Setup", "operating_point"]
