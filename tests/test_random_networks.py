"""Ten thousand random networks against exact fractions, ten thousand against ngspice.

Networks resemble a harness: mostly trees, with some loops, exact opens, islands that
nothing holds, and one to three sources. Both tests are derandomised, so that a commit
passes or fails alike on every machine; the networks are chosen by Hypothesis from the
tests' own text, not by us. To try others, take `derandomize` out.

A failing network is shown link by link: Hypothesis shrinks what it draws for the exact
solve; what ngspice disagrees with loses links one by one as long as it still does.
"""

import subprocess
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from ohmwork.network.elimination import LEAK
from ohmwork.network.laws import Conductor, Diode, Filament, Source
from random_networks import GROUND, RandomNetwork, draw

# Against fractions
# -----------------

TWELVE_DECADES = (-8, 4)
"""From a leaky insulation of 100 MΩ to a joint of 0.1 mΩ, as powers of ten. [S]"""

ROUNDING = 1e-14
"""Share of what every source drives alone that rounding may cost: some fifty roundings
of a double, as 30 nodes take one after the other. [-] The worst found is 9e-16."""

Exact = dict[str, tuple[Fraction, Fraction]]
"""Node, to its voltage and to its scale: the voltage if every current that the sources
drive into a node were of one sign. [V]"""


def solve_exactly(network: RandomNetwork) -> Exact:
    """Solve the nodal equations by Gaussian elimination in fractions.

    Of the solver only its order of nodes is used: it tells where the leak of a floating
    island stands, and which order is quick.
    """
    nodes = [node for node in network.bases if node != GROUND]
    matrix = {node: {node: Fraction(0)} for node in nodes}
    driven = {node: [Fraction(0), Fraction(0)] for node in nodes}
    for node, base in network.bases.items():
        if node == base != GROUND:
            matrix[node][node] += Fraction(LEAK)
    for link in network.closed:
        assert isinstance(link.law, (Conductor, Source))
        conductance = Fraction(link.law.conductance)
        emf = Fraction(link.law.voltage) if isinstance(link.law, Source) else 0
        current = conductance * emf
        for one, other, into in ((link.a, link.b, current), (link.b, link.a, -current)):
            if one != GROUND:
                matrix[one][one] += conductance
                driven[one][0] += into
                driven[one][1] += abs(into)
                if other != GROUND:
                    matrix[one][other] = matrix[one].get(other, 0) - conductance
    # The matrix is symmetric, so a node's row also tells the rows that name it.
    for node in reversed(nodes):
        row = matrix[node]
        pivot = row.pop(node)
        for other in row:
            factor = matrix[other].pop(node) / pivot
            for third, value in row.items():
                matrix[other][third] = matrix[other].get(third, 0) - factor * value
            for column in (0, 1):
                driven[other][column] -= factor * driven[node][column]
        row[node] = pivot
    found: Exact = {GROUND: (Fraction(0), Fraction(0))}
    for node in nodes:
        pivot = matrix[node].pop(node)
        voltage, scale = driven[node]
        for other, value in matrix[node].items():
            voltage -= value * found[other][0]
            scale -= value * found[other][1]
        found[node] = voltage / pivot, scale / pivot
    return found


linear_networks = st.randoms(use_true_random=False).map(
    lambda random: draw(random, TWELVE_DECADES, bent=False)
)


@settings(max_examples=10_000, derandomize=True, deadline=None)
@given(linear_networks)
def test_a_linear_network_is_solved_as_by_fractions(network: RandomNetwork) -> None:
    """Every voltage is exact to rounding, at conductances over twelve decades.

    Voltages are a sum over the sources' currents, and the solver keeps each term to a
    few roundings; so the bound is relative where all terms have one sign. A floating
    island takes no net current; what rounding leaves of it lifts the island as a
    whole by its leak, and does not count between its nodes.
    """
    exact, found = solve_exactly(network), network.solve()
    for node, base in network.bases.items():
        lift = Fraction(0.0 if node == base else found[base])
        under, under_scale = exact[GROUND if node == base else base]
        voltage, scale = exact[node]
        error = Fraction(found[node]) - lift - (voltage - under)
        allowed = Fraction(ROUNDING) * (scale - under_scale + abs(lift))
        assert abs(error) <= allowed, (
            f"{node} is at {found[node]!r} V over ground, exact {float(voltage)!r} V"
            f" and {float(allowed)!r} V allowed, in\n{network}"
        )


# Against ngspice
# ---------------

TEN_DECADES = (-7, 3)
"""Of the conductances, as powers of ten. [S] ngspice eliminates with differences of
doubles: 1e-8 S beside 1e3 S, eleven decades, already cost it a fifth of a millivolt."""

ABSOLUTE, RELATIVE = 1e-3, 1e-3
"""Agreement asked for: 1 mV + 0.1 %; ngspice itself stops at 0.1 % + 1 µV."""

BATCH = 100
"""Networks solved by one process."""


def netlist(network: RandomNetwork) -> Iterator[str]:
    """Give the lines of a circuit for ngspice, from the published formulas alone.

    An island that nothing holds is tied to ground at one node: it takes no current, so
    any resistor does, and 1 Ω is easier on ngspice than the solver's leak.
    """
    for number, link in enumerate(network.closed):
        ends = f"{number} {link.a} {link.b}"
        v = f"v({link.a},{link.b})"
        match link.law:
            case Conductor(g):
                yield f"R{ends} {1.0 / g!r}"
            case Source(g, emf):
                yield f"R{number} {link.a} within{number} {1.0 / g!r}"
                yield f"V{number} within{number} {link.b} {emf!r}"
            case Filament(g, knee):
                yield f"B{ends} i={g!r}*{v}*pow(1+({v}/{knee!r})^2,-0.225)"
            case Diode():
                bend, above = f"min({v},0.8)", f"max({v}-0.8,0)"
                yield f"B{ends} i=1e-13*(exp({bend}/0.026)*(1+{above}/0.026)-1)"
    for base in {*network.bases.values()} - {GROUND}:
        yield f"R{base} {base} {GROUND} 1"


def solve_by_ngspice(
    ngspice: str, networks: Sequence[RandomNetwork]
) -> list[dict[str, float]]:
    """Return the node voltages of every network, all by one process. [V]"""
    script = ["all", ".control", "set filetype=ascii", "set appendwrite"]
    with TemporaryDirectory() as name:
        folder = Path(name)
        for number, network in enumerate(networks):
            lines = (f"network {number}", *netlist(network), ".end", "")
            (folder / f"{number}.cir").write_text("\n".join(lines))
            script += [f"source {number}.cir", "op", "write out.raw all"]
            script += ["remcirc", "destroy all"]
        (folder / "all.sp").write_text("\n".join((*script, "quit", ".endc", "")))
        run = subprocess.run(
            [ngspice, "-b", "all.sp"],
            cwd=folder,
            capture_output=True,
            text=True,
            check=False,
        )
        plots = (folder / "out.raw").read_text().split("Title: ")[1:]
    assert len(plots) == len(networks), run.stderr[-2000:]
    return [_voltages(plot) for plot in plots]


def _voltages(plot: str) -> dict[str, float]:
    """Read the nodes of one plot in an ASCII result file. [V]"""
    header, values = plot.split("Values:\n")
    rows = header.split("Variables:\n")[1].splitlines()
    names = [row.split()[1] for row in rows if row.strip()]
    numbers = map(float, values.split()[1:])
    found = dict(zip(names, numbers, strict=True))
    return {name[2:-1]: volts for name, volts in found.items() if name.startswith("v(")}


def disagreements(
    ngspice: str, networks: Sequence[RandomNetwork]
) -> Iterator[tuple[RandomNetwork, str]]:
    """Give the networks whose voltages differ, each with its first such node."""
    theirs = solve_by_ngspice(ngspice, networks)
    for network, them in zip(networks, theirs, strict=True):
        us, them = network.solve(), {GROUND: 0.0, **them}
        for node, base in network.bases.items():
            if node not in them:
                continue  # nothing conducts there
            ours, volts = us[node] - us[base], them[node] - them[base]
            if not abs(ours - volts) <= ABSOLUTE + RELATIVE * abs(volts):
                yield network, f"{node} to {base}: {ours} V, by ngspice {volts} V"
                break


@settings(
    max_examples=10_000 // BATCH,
    derandomize=True,
    deadline=None,
    phases=[Phase.generate],  # a smaller seed makes no smaller networks
)
@given(st.integers(0, 2**32 - 1))
def test_ngspice_agrees(ngspice: str, seed: int) -> None:
    """Every node of a batch of networks, every other one with lamps and diodes."""
    networks = [
        draw(Random(f"{seed} {number}"), TEN_DECADES, bent=number % 2 == 1)
        for number in range(BATCH)
    ]
    wrong = next(disagreements(ngspice, networks), None)
    while wrong is not None:
        network, where = wrong
        wrong = next(disagreements(ngspice, [*network.smaller()]), None)
        if wrong is None:
            pytest.fail(f"{where}, in\n{network}")
