"""Ticket books: one file for all, sealed entries of one length, no fault told."""

import base64
import collections
import dataclasses
import json
import re
import traceback
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ohmwork import start_practice
from ohmwork.errors import TicketError, UnknownNameError, VehicleError
from ohmwork.exercise import Exercise, PoolEntry, load_exercise
from ohmwork.faults import RANGED, RESISTANCE_RANGES, WHEN, Fault, universe
from ohmwork.network import MODEL_VERSION
from ohmwork.tickets import SUFFIX as BOOK_SUFFIX
from ohmwork.tickets import Book, learner_key, read_book
from ohmwork.vehicle import load_vehicle
from ohmwork_grading.tickets import exercises_in, issue_book, pool_books

VAN = load_vehicle("lighting_board")
EXERCISE = Exercise(
    id="x30_fault",
    title="A lamp that is not right",
    brief="Find it.",
    vehicle="lighting_board",
    states=({"S1": "on", "S2": "dip"},),
    kinds=("open_circuit", "high_resistance", "short_to_ground", "lamp_blown"),
    points={"conclusion": 40, "evidence": 30, "care": 10, "economy": 10, "repair": 10},
    pool=(
        PoolEntry(kind="open_circuit", site="W16"),
        PoolEntry(kind="high_resistance", site="GP1", low=0.8, high=6.0),
        PoolEntry(kind="short_to_ground", site="W24"),
        PoolEntry(kind="lamp_blown", site="E3"),
        PoolEntry(kind="open_circuit", site="X12:4"),
    ),
)
ROSTER = tuple(f"s{n:02d}" for n in range(1, 13))


def faults_of(book: Book, roster: tuple[str, ...] = ROSTER) -> list[Fault]:
    """Return each learner's fault, opened."""
    return [book.open(learner).fault for learner in roster]


def written(book: Book, path: Path) -> dict[str, Any]:
    """Write a book and return its file's data."""
    path.write_text(book.to_text(), encoding="utf-8")
    data: dict[str, Any] = json.loads(path.read_text("utf-8"))
    return data


# Issuing


@pytest.mark.parametrize("size", [1, 4, 5, 6, 12])
def test_each_fault_is_drawn_once_before_any_twice(size: int) -> None:
    """For a class of any size no pool entry is used two times more than another."""
    book = issue_book(EXERCISE, VAN, ROSTER[:size], seed=1)

    counts = collections.Counter(f.answer for f in faults_of(book, ROSTER[:size]))
    numbers = [counts[(e.site, e.kind)] for e in EXERCISE.pool]
    assert sum(numbers) == size
    assert max(numbers) - min(numbers) <= 1


def test_faults_to_practise_on_keep_their_order(tmp_path: Path) -> None:
    """The first is the one that stands first, the plainest; then again from there."""
    exercise = dataclasses.replace(EXERCISE, practice=True)
    book = issue_book(exercise, VAN, pool_size=7, seed=1)
    (tmp_path / f"x30_fault{BOOK_SUFFIX}").write_text(book.to_text(), encoding="utf-8")

    faults = [book.open_from_pool("x", number).fault for number in range(7)]
    entries = [(entry.site, entry.kind) for entry in exercise.pool]
    assert [fault.answer for fault in faults] == [*entries, *entries[:2]]
    job = start_practice(exercise.id, folder=tmp_path)
    assert job.ticket_number == book.open_from_pool("practice 0", 0).id
    assert job.another().ticket_number == book.open_from_pool("practice 1", 1).id


def test_a_range_is_drawn_from() -> None:
    """The resistance of each draw lies in its entry's range, another every time."""
    pool = EXERCISE.pool[1:2]
    book = issue_book(dataclasses.replace(EXERCISE, pool=pool), VAN, ROSTER, seed=1)

    values = [f.resistance for f in faults_of(book)]
    assert all(value is not None and 0.8 <= value <= 6.0 for value in values)
    assert len(set(values)) == len(ROSTER)


def test_a_range_is_drawn_on_a_ratio_scale() -> None:
    """Half way from 1 to 100 Ω is 10 Ω, and both ends belong to the range."""
    entry = PoolEntry(kind="high_resistance", site="GP1", low=1.0, high=100.0)

    assert [entry.at(share).resistance for share in (0.0, 0.5, 1.0)] == [1, 10, 100]


def test_the_same_seed_draws_the_same_and_no_seed_another() -> None:
    """A seed repeats a book to the byte; without one every book differs."""
    one, same = (issue_book(EXERCISE, VAN, ROSTER, seed=7) for _ in range(2))
    free, other = (issue_book(EXERCISE, VAN, ROSTER) for _ in range(2))

    assert one.to_text() == same.to_text()
    assert free.salt != other.salt


def test_a_chosen_fault_goes_to_its_learner() -> None:
    """The instructor's choice replaces the draw for that learner alone."""
    chosen = Fault(kind="high_resistance", site="W23", resistance=2.0)

    drawn = issue_book(EXERCISE, VAN, ROSTER, seed=3)
    book = issue_book(EXERCISE, VAN, ROSTER, seed=3, chosen={"s05": chosen})

    assert book.open("s05").fault == chosen
    others = tuple(learner for learner in ROSTER if learner != "s05")
    assert faults_of(book, others) == faults_of(drawn, others)


def test_a_chosen_fault_must_fit_the_vehicle() -> None:
    """A lamp cannot have an open circuit; the error says what it can have."""
    chosen = Fault(kind="open_circuit", site="E3")

    with pytest.raises(UnknownNameError, match=r"Possible there: lamp_blown, wrong"):
        issue_book(EXERCISE, VAN, ROSTER, chosen={"s05": chosen})


def test_an_exercise_without_a_pool_is_refused() -> None:
    """There is nothing to draw from."""
    with pytest.raises(TicketError, match=r"^x30_fault has no pool to draw faults"):
        issue_book(dataclasses.replace(EXERCISE, pool=()), VAN, ROSTER)


def test_a_pool_that_does_not_fit_the_vehicle_is_refused() -> None:
    """The mistake is found when tickets are issued, not when a learner opens one."""
    pool = (PoolEntry(kind="open_circuit", site="W99"),)

    with pytest.raises(
        VehicleError, match=r"^x30_fault: pool: No place for a fault 'W99'\."
    ):
        issue_book(dataclasses.replace(EXERCISE, pool=pool), VAN, ROSTER)


# One file for all


def sealed_of(data: dict[str, Any]) -> list[str]:
    """Return every sealed entry of a book's file."""
    return [*data["tickets"].values(), *data["pool"]]


def test_sealed_entries_have_equal_length(tmp_path: Path) -> None:
    """Whatever the fault, its entry is as long as any other."""
    roster = [f"s{n}" for n in range(400)]
    every = [
        dataclasses.replace(f, resistance=RESISTANCE_RANGES[f.kind][0] + 1 / 3)
        if f.kind in RANGED
        else f
        for f in universe(VAN)
    ]
    chosen = dict(zip(roster, every, strict=False))
    book = issue_book(EXERCISE, VAN, roster, chosen=chosen, pool_size=5, seed=1)

    lengths = {len(sealed) for sealed in sealed_of(written(book, tmp_path / "b.json"))}

    assert len(chosen) == len(every)
    assert len(lengths) == 1


def test_books_differ_in_nothing_but_the_sealed_entries() -> None:
    """Cut for other faults, the same roster's book is the same to the byte."""
    faults = list(universe(VAN, ["open_circuit", "short_to_ground", "lamp_blown"]))
    one = issue_book(
        EXERCISE, VAN, ROSTER, seed=1, chosen=dict(zip(ROSTER, faults, strict=False))
    )
    other = issue_book(
        EXERCISE,
        VAN,
        ROSTER,
        seed=1,
        chosen=dict(zip(ROSTER, faults[20:], strict=False)),
    )
    seals = re.compile(r'"[A-Za-z0-9+/=]{100,}"')

    assert one.to_text() != other.to_text()
    assert seals.sub("sealed", one.to_text()) == seals.sub("sealed", other.to_text())
    assert len(one.to_text()) == len(other.to_text())


def test_a_book_does_not_carry_the_pool(tmp_path: Path) -> None:
    """The exercise in the book says what may be concluded, not what was issued."""
    book = issue_book(EXERCISE, VAN, ROSTER, pool_size=3, seed=1)

    data = written(book, tmp_path / "x30_fault.tickets.json")

    assert "pool" not in data["exercise"]
    assert read_book(tmp_path / "x30_fault.tickets.json").exercise.pool == ()


def test_no_entry_shows_its_fault(tmp_path: Path) -> None:
    """Neither a site nor a learner's name stands in a sealed entry or as its key."""
    book = issue_book(EXERCISE, VAN, ROSTER, seed=1)
    data = written(book, tmp_path / "b.json")

    plain = [base64.b64decode(sealed) for sealed in sealed_of(data)]
    for fault in faults_of(book):
        assert not any(fault.site.encode() in text for text in plain)
    assert not set(data["tickets"]) & set(ROSTER)


def test_equal_faults_are_sealed_differently() -> None:
    """Two learners with one fault cannot see that from the book."""
    fault = Fault(kind="lamp_blown", site="E3")
    book = issue_book(EXERCISE, VAN, ROSTER, chosen=dict.fromkeys(ROSTER, fault))

    assert len(set(book.tickets.values())) == len(ROSTER)


def test_a_book_keeps_its_exercise_and_vehicle(tmp_path: Path) -> None:
    """What is read back is what was issued, vehicle file and all."""
    path = tmp_path / "x30_fault.tickets.json"
    book = issue_book(EXERCISE, VAN, ROSTER, seed=1)
    written(book, path)

    read = read_book(path)

    assert read.vehicle == VAN
    assert read.exercise == dataclasses.replace(EXERCISE, pool=())
    assert faults_of(read) == faults_of(book)


@settings(max_examples=50)
@given(
    st.sampled_from(universe(VAN)),
    st.floats(0.0, 1.0),
    st.sampled_from([None, *WHEN]),
    st.integers(0, 2**32),
    st.text(min_size=1, max_size=60),
)
def test_what_is_sealed_is_opened(
    fault: Fault, share: float, when: str | None, seed: int, learner: str
) -> None:
    """Any fault, passing or not, sealed for any name comes out as it was."""
    if fault.kind in RANGED:
        low, high = RESISTANCE_RANGES[fault.kind]
        ohms = min(low * (high / low) ** share, high)
        fault = dataclasses.replace(fault, resistance=ohms)
    fault = dataclasses.replace(fault, when=when, seed=seed)
    empty = Book(exercise=EXERCISE, vehicle=VAN, salt="0123456789abcdef", tickets={})
    key = learner_key(empty.salt, learner)

    book = dataclasses.replace(empty, tickets={key: empty.seal(fault, learner)})

    assert book.open(learner).fault == fault


# Who gets what


def test_a_learner_with_a_ticket_gets_it_whatever_the_pool() -> None:
    """The pool is for those who are not on the roster."""
    book = issue_book(EXERCISE, VAN, ROSTER, pool_size=4, seed=1)
    alone = issue_book(EXERCISE, VAN, ROSTER, seed=1)

    assert book.has_ticket("s01")
    assert not book.has_ticket("stranger")
    assert len({book.open(learner).id for learner in ROSTER}) == len(ROSTER)
    assert len(alone.tickets) == len(book.tickets) == len(ROSTER)


def test_identity_picks_from_the_pool() -> None:
    """A name off the roster always gets the same entry; many names get them all."""
    book = issue_book(EXERCISE, VAN, pool_size=5, seed=1)

    first = {f"guest{n}": book.open(f"guest{n}").fault for n in range(60)}
    again = {name: book.open(name).fault for name in first}

    assert first == again
    assert {f.answer for f in first.values()} == {
        (e.site, e.kind) for e in EXERCISE.pool
    }


def test_two_of_the_pool_have_tickets_of_their_own() -> None:
    """Even where the pool gives two names one fault, their ticket numbers differ."""
    book = issue_book(EXERCISE, VAN, pool_size=1, seed=1)

    assert book.open("ann").fault == book.open("bob").fault
    assert book.open("ann").id != book.open("bob").id


def test_without_pool_a_stranger_gets_nothing() -> None:
    """The message names the name that was tried and whom to ask."""
    book = issue_book(EXERCISE, VAN, ROSTER, seed=1)

    with pytest.raises(
        TicketError,
        match=r"^There is no ticket for 'stranger' in x30_fault\.tickets\.json\. "
        r"Check the name you go by in this course, or ask your instructor\.$",
    ):
        book.open("stranger")


# Seals and versions


@pytest.mark.parametrize("place", [0, 7, 8, 40, 167])
def test_a_broken_seal_is_told(place: int) -> None:
    """One bit flipped anywhere in an entry, and the ticket does not open."""
    book = issue_book(EXERCISE, VAN, ROSTER, seed=1)
    key = learner_key(book.salt, "s01")
    raw = bytearray(base64.b64decode(book.tickets[key]))
    raw[place] ^= 1
    sealed = base64.b64encode(raw).decode()
    broken = dataclasses.replace(book, tickets={**book.tickets, key: sealed})

    with pytest.raises(TicketError, match=r"^The ticket's seal is broken\. Copy the"):
        broken.open("s01")


@pytest.mark.parametrize(
    "sealed", ["", "AAAA", "not base64 !", "A", "ü", "A" * 1000], ids=repr
)
def test_an_entry_that_is_none_is_a_broken_seal(sealed: str) -> None:
    """Whatever stands in an entry's place, the learner gets the same clear error."""
    book = issue_book(EXERCISE, VAN, ROSTER, seed=1)
    key = learner_key(book.salt, "s01")
    broken = dataclasses.replace(book, tickets={key: sealed})

    with pytest.raises(TicketError, match=r"^The ticket's seal is broken\."):
        broken.open("s01")


def test_an_entry_moved_to_another_learner_does_not_open() -> None:
    """A ticket is sealed for its learner: swapping entries gains nothing."""
    book = issue_book(EXERCISE, VAN, ROSTER, pool_size=1, seed=1)
    keys = [learner_key(book.salt, learner) for learner in ("s01", "s02")]
    swapped = {**book.tickets, keys[0]: book.tickets[keys[1]]}
    from_pool = {**book.tickets, keys[0]: book.pool[0]}

    for tickets in (swapped, from_pool):
        with pytest.raises(TicketError, match=r"seal is broken"):
            dataclasses.replace(book, tickets=tickets).open("s01")


def test_an_entry_of_another_exercise_does_not_open() -> None:
    """Nor does an entry of another book with the same salt and roster."""
    book = issue_book(EXERCISE, VAN, ROSTER, seed=1)
    other = issue_book(
        dataclasses.replace(EXERCISE, id="x31_fault"), VAN, ROSTER, seed=1
    )
    assert book.salt == other.salt

    with pytest.raises(TicketError, match=r"seal is broken"):
        dataclasses.replace(book, tickets=other.tickets).open("s01")


def spoilt(book: Book, path: Path, **entries: Any) -> Path:
    """Write a book with some entries changed, or taken out where they are None."""
    data = {**json.loads(book.to_text()), **entries}
    kept = {name: value for name, value in data.items() if value is not None}
    path.write_text(json.dumps(kept), encoding="utf-8")
    return path


def test_a_book_of_another_model_version_is_refused(tmp_path: Path) -> None:
    """An update never changes a mark: the older book says which Ohmwork it needs."""
    book = issue_book(EXERCISE, VAN, ROSTER, seed=1)
    path = spoilt(book, tmp_path / "x.tickets.json", model=MODEL_VERSION + 1)

    with pytest.raises(
        TicketError,
        match=rf"^x\.tickets\.json was issued for model version {MODEL_VERSION + 1}; "
        rf"this is version {MODEL_VERSION}\. Use the Ohmwork it was issued with\.$",
    ):
        read_book(path)


@pytest.mark.parametrize(
    ("entries", "text"),
    [
        ({"format": "recipe"}, r"^x\.tickets\.json is no ticket book this version can"),
        (
            {"salt": None},
            r"^x\.tickets\.json is damaged at 'salt'\. Copy it again from",
        ),
        ({"model": None}, r"^x\.tickets\.json is damaged at 'model'\."),
        ({"model": "1"}, r"^x\.tickets\.json is damaged at 'model'\."),
        ({"vehicle": None}, r"^x\.tickets\.json is damaged at 'vehicle'\."),
        ({"exercise": []}, r"^x\.tickets\.json is damaged at 'exercise'\."),
        ({"tickets": 5}, r"^x\.tickets\.json is damaged at 'tickets'\."),
        ({"pool": {}}, r"^x\.tickets\.json is damaged at 'pool'\."),
    ],
)
def test_a_damaged_book_is_refused(
    entries: dict[str, Any], text: str, tmp_path: Path
) -> None:
    """The error names the file and what is wrong with it."""
    book = issue_book(EXERCISE, VAN, ROSTER, seed=1)
    path = spoilt(book, tmp_path / "x.tickets.json", **entries)

    with pytest.raises(TicketError, match=text):
        read_book(path)


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b"\xff\xfe", b"null"])
def test_a_file_that_is_no_book_is_refused(content: bytes, tmp_path: Path) -> None:
    """Anything else under a book's name gives a ticket error, never a crash."""
    path = tmp_path / "x.tickets.json"
    path.write_bytes(content)

    with pytest.raises(TicketError, match=r"^x\.tickets\.json is "):
        read_book(path)


def test_a_missing_book_is_said_to_be_missing(tmp_path: Path) -> None:
    """The message says where it belongs and whom to ask."""
    with pytest.raises(
        TicketError,
        match=r"^There is no ticket book x\.tickets\.json here\. It belongs",
    ):
        read_book(tmp_path / "x.tickets.json")


# Nothing shows the fault


def test_a_ticket_printed_shows_no_fault() -> None:
    """Repr and str of an opened ticket name the learner and the number alone."""
    ticket = issue_book(EXERCISE, VAN, ROSTER, seed=1).open("s01")

    assert repr(ticket) == f"Ticket(id='{ticket.id}', learner='s01')"
    assert str(ticket) == repr(ticket)


def test_a_broken_seals_traceback_shows_no_fault() -> None:
    """Opening another's entry fails without a word of what is in it."""
    fault = Fault(kind="short_to_ground", site="W24")
    book = issue_book(EXERCISE, VAN, ROSTER, chosen={"s02": fault}, seed=1)
    one, two = (learner_key(book.salt, learner) for learner in ("s01", "s02"))
    moved = dataclasses.replace(book, tickets={one: book.tickets[two]})

    with pytest.raises(TicketError) as refused:
        moved.open("s01")

    text = "".join(traceback.format_exception(refused.value))
    assert "W24" not in text
    assert "short_to_ground" not in text


# Books of a lesson


def test_exercises_of_a_folder_come_with_their_vehicle(tmp_path: Path) -> None:
    """A vehicle file in the folder goes before the one in Ohmwork."""
    text = (
        "format: ohmwork exercise 1\nid: x30_fault\ntitle: t\nbrief: b\n"
        "vehicle: lighting_board\nstates: [{S1: 'on'}]\nkinds: [lamp_blown]\n"
        "pool: [{kind: lamp_blown, site: E3}]\n"
    )
    (tmp_path / "x30_fault.exercise.yaml").write_text(text, encoding="utf-8")
    assert exercises_in(tmp_path)["x30_fault"][1] == VAN
    own = VAN.text.replace("12.6 V", "12.4 V")
    (tmp_path / "lighting_board.yaml").write_text(own, encoding="utf-8")

    exercise, vehicle = exercises_in(tmp_path)["x30_fault"]

    assert exercise == load_exercise(tmp_path / "x30_fault.exercise.yaml")
    assert vehicle.text == own
    books = pool_books(tmp_path, size=3, seed=1)
    assert list(books) == [tmp_path / "x30_fault.tickets.json"]
    assert [len(book.pool) for book in books.values()] == [3]
