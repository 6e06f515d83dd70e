"""Which faults are still possible, which can be told apart, and how soon."""

from ohmwork.reasoning.hypotheses import Hypotheses, hypotheses
from ohmwork.reasoning.yardstick import Casebook, Yardstick, casebook

__all__ = ["Casebook", "Hypotheses", "Yardstick", "casebook", "hypotheses"]
