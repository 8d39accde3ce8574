"""Simulated cooks, popcorn and reheats, with physics that the service does not assume, and a scorer that plays them to it."""

from tests.simulation.posting import SimulatedCook
from tests.simulation.reheats import simulate_reheat
from tests.simulation.simulator import simulate

__all__ = ["SimulatedCook", "simulate", "simulate_reheat"]
