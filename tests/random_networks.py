"""Random networks that resemble a harness, and the solver's answer to them."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from random import Random

from ohmwork.network.laws import Conductor, Diode, Filament, Law, Source
from ohmwork.network.lowering import Branch
from ohmwork.network.newton import SET, SWITCHED, Shape, newton

GROUND = "0"

HIGHEST = 12.0
"""Most that the sources of a network give together. [V] ngspice by default takes a node
for settled once it moves by less than 0.1 %; of much more than 12 V that is as much as
multiplies a diode's current, and it then stops too early."""


@dataclass(frozen=True, slots=True)
class Link:
    """A law between two nodes."""

    a: str
    b: str
    law: Law
    is_closed: bool
    """Whether it conducts at all."""
    is_switched: bool
    """Whether the solver is told that it may yet open or close."""

    def __str__(self) -> str:
        """Ends, law and what is special."""
        special = (" open" * (not self.is_closed), " switched" * self.is_switched)
        return f"{self.a} to {self.b}: {self.law}{''.join(special)}"


@dataclass(frozen=True)
class RandomNetwork:
    """Links between numbered nodes and ground."""

    links: tuple[Link, ...]

    def __str__(self) -> str:
        """One link a line."""
        return "\n".join(map(str, self.links))

    @cached_property
    def closed(self) -> list[Link]:
        """What conducts."""
        return [link for link in self.links if link.is_closed]

    @cached_property
    def shape(self) -> Shape:
        """The solver's table for this network."""
        branches = (
            Branch(f"P{number}", "", link.a, link.b, link.law)
            for number, link in enumerate(self.links)
        )
        switched = [link.is_switched for link in self.links]
        return Shape(tuple(branches), GROUND, switched)

    @cached_property
    def bases(self) -> dict[str, str]:
        """Each node, to the one that its voltage is measured from.

        That is ground; in an island that nothing joins to ground it is the node that
        the solver eliminates last, where the leak stands that holds the island.
        """
        steps = [step.node for stage in self.shape.plan.stages for step in stage]
        last_first = [GROUND, *(self.shape.nodes[k] for k in reversed(steps))]
        bases = {node: node for node in last_first}
        for link in self.closed:
            base, other = sorted((bases[link.a], bases[link.b]), key=last_first.index)
            for node, old in bases.items():
                if old == other:
                    bases[node] = base
        return bases

    def solve(self) -> dict[str, float]:
        """Return the voltage of every node as the solver finds it. [V]"""
        shape = self.shape
        shares = [float(link.is_closed) for link in self.links]
        voltages = [0.0] * len(shape.nodes)
        reduced = shape.reduced(shares)
        laws = [link.law for link in self.links]
        stamps = newton(shape, laws, reduced, shares, voltages)
        shape.expand(SWITCHED, stamps, voltages)
        shape.expand(SET, reduced, voltages)
        return {GROUND: 0.0, **dict(zip(shape.nodes, voltages, strict=True))}

    def smaller(self) -> Iterator["RandomNetwork"]:
        """Give the networks that lack one link of this; a diode keeps its coil."""
        held = {(d.a, d.b) for d in self.links if isinstance(d.law, Diode)}
        for k, link in enumerate(self.links):
            if isinstance(link.law, Diode) or (link.a, link.b) not in held:
                yield RandomNetwork(self.links[:k] + self.links[k + 1 :])


def draw(random: Random, decades: tuple[int, int], *, bent: bool) -> RandomNetwork:
    """Draw a network of 2 to 30 nodes.

    Mostly a tree, as a harness is, that grows from ground or from nothing; some links
    more make loops, one in ten is open. One to three sources lie anywhere. All is drawn
    as integers: Hypothesis draws those fastest, and shrinks to small ones.

    Parameters
    ----------
    random : source of all choices.
    decades : range of the conductances, as powers of ten. [S]
    bent : whether there are lamps and diodes.
    """
    nodes = [GROUND]
    links: list[Link] = []

    def anywhere() -> tuple[str, str]:
        one = random.randint(0, len(nodes) - 1)
        other = one + random.randint(1, len(nodes) - 1)
        return nodes[one], nodes[other % len(nodes)]

    def power(low: int, high: int) -> float:
        """Draw over decades, to three digits."""
        return float(f"{10.0 ** (0.01 * random.randint(100 * low, 100 * high)):.3g}")

    def join(ends: tuple[str, str], law: Law) -> None:
        chance = random.randint(0, 19)
        links.append(Link(*ends, law, chance < 18, chance % 3 == 2))

    for number in range(1, random.randint(2, 30) + 1):
        # Most hang on one of the last few, some begin an island of their own.
        back = (1, 1, 1, 2, 3, 5, 8, 0)[random.randint(0, 7)]
        node = f"n{number}"
        if back > 0:
            join((nodes[-min(back, number)], node), Conductor(power(*decades)))
        nodes.append(node)
    for _ in range(random.randint(0, len(nodes) // 3)):
        join(anywhere(), Conductor(power(*decades)))
    n_sources = random.randint(1, 3)
    for _ in range(n_sources):
        voltage = HIGHEST / n_sources * 0.01 * random.randint(0, 100)
        join(anywhere(), Source(power(0, decades[1]), voltage))
    if bent:
        for _ in range(random.randint(1, 4)):
            # From 4 W to 80 W, at 12 V or 24 V.
            join(anywhere(), Filament(power(-1, 1), power(-2, 0)))
        for _ in range(random.randint(0, 2)):
            # Beside a diode there is a coil, or at least the dirt on its case.
            ends = anywhere()
            links.append(Link(*ends, Conductor(power(-5, -1)), True, False))
            join(ends, Diode(1.0))
    return RandomNetwork(tuple(links))
