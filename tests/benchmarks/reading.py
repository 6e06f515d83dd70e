"""What one reading of a voltmeter costs on a whole vehicle, against ngspice.

Run: ``python tests/benchmarks/reading.py``. Wanted: under 2 ms, and at least 50 times
faster than one batch run of ngspice, process start to finish, on the same circuit.
"""

import statistics
from functools import partial

from measuring import driven_states, finish, is_quick, seconds, show, subject
from referee import single_run

from ohmwork.bench import Bench
from ohmwork.errors import NotPossibleError
from ohmwork.instruments import Hookup, measure
from ohmwork.network import Network, Setup


def main() -> None:
    """Measure and print."""
    quick = is_quick()
    vehicle = subject(quick=quick)
    controls = driven_states(vehicle)[-1]
    network, setup = Network(vehicle), Setup(controls=controls)
    point = network.settle(setup)
    places = vehicle.reachable[:: 8 if quick else 1]
    hookups = [Hookup(lead_a=p, lead_b=vehicle.reference) for p in places]
    readings = sorted(
        seconds(partial(measure, network, setup, hookup, point)) for hookup in hookups
    )
    bench = Bench(vehicle)
    for control, position in controls.items():
        bench.set_control(control, position)
    bench.place("B", vehicle.reference)
    on_bench = [
        seconds(partial(_place_and_read, bench, place))
        for place in places
        if _can_touch(bench, place)
    ]
    runs = [single_run(vehicle, controls) for _ in range(1 if quick else 9)]
    reading, ngspice = statistics.median(readings), statistics.median(runs)
    values = {
        "reading_us": 1e6 * reading,
        "slowest_us": 1e6 * readings[-1],
        "bench_us": 1e6 * statistics.median(on_bench),
        "ngspice_us": 1e6 * ngspice,
        "ratio": ngspice / reading,
    }
    print(
        f"{vehicle.title}: {len(vehicle.places)} places, {len(point.shape.nodes)} "
        f"nodes; the voltmeter at {len(places)} places."
    )
    show(
        [
            ("one reading", f"{values['reading_us']:.0f} µs", "wanted: under 2000 µs"),
            ("the slowest one", f"{values['slowest_us']:.0f} µs", ""),
            ("place and read on the bench", f"{values['bench_us']:.0f} µs", ""),
            ("one run of ngspice", f"{values['ngspice_us']:.0f} µs", ""),
            ("times faster", f"{values['ratio']:.0f}", "wanted: at least 50"),
        ]
    )
    finish(values)


def _place_and_read(bench: Bench, place: str) -> None:
    bench.place("A", place)
    bench.read()


def _can_touch(bench: Bench, place: str) -> bool:
    """Whether a lead can go there with everything fitted, and B is elsewhere."""
    try:
        bench.can_touch(place)
    except NotPossibleError:
        return False
    return place != bench.hookup.lead_b


if __name__ == "__main__":
    main()
