"""Many visits without a place get the best ones there are: equal to a search through every choice."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta

import pytest

from clinic.booking.rules import grid as g
from clinic.booking.rules import places
from clinic.booking.rules.openings import Length
from clinic.booking.rules.replacing import in_turn, place_all
from tests.booking import small_books
from tests.booking.small_books import MONDAY


def answer_for(seed):
    dice = random.Random(seed)
    clinicians = dice.randint(1, 3)
    book = small_books.book(
        dice, clinicians=clinicians, rooms=dice.randint(1, 2), days=dice.randint(1, 3), filled=dice.choice((0.6, 0.8, 0.9))
    )
    wanted = small_books.jobs(dice, book, dice.randint(2, 5), span=2)
    return wanted, book, place_all(wanted, book)


def test_the_cost_is_the_least_of_all_choices():
    for seed in range(60):
        wanted, book, answer = answer_for(seed)
        assert answer.proven, seed
        assert answer.cost == small_books.least_cost(wanted, book), seed


def test_when_every_room_is_short_it_is_still_the_least():
    """One room for two clinicians, whose free half hours do not fit together: counting rooms is not enough."""
    for seed in range(20):
        dice = random.Random(1000 + seed)
        book = small_books.book(dice, clinicians=2, rooms=2, days=1, filled=0.0)
        holes = {100: 0.5, 101: 0.5}
        rooms = {
            name: mask & ~sum(0x3F << begin for begin in range(108, 204, 6) if dice.random() < share)
            for (name, mask), share in zip(book.rooms.items(), holes.values(), strict=True)
        }
        book = places.Book(book.grid, book.zone, book.clinicians, rooms, book.not_before, book.shortest)
        wanted = small_books.jobs(dice, book, 5)
        answer = place_all(wanted, book)
        assert (answer.cost, answer.proven) == (small_books.least_cost(wanted, book), True), seed


@pytest.mark.parametrize("rooms", [3, 8])
def test_an_answer_near_the_bound_is_as_near_as_it_says(rooms):
    """Beside the proven best: with three rooms for eight clinicians some stay out, and rooms are what is short."""
    dice = random.Random(rooms)
    book = small_books.book(dice, clinicians=8, rooms=rooms, days=10, filled=0.4, closed=(2,))
    wanted = small_books.jobs(dice, book, 60, day=MONDAY + timedelta(days=2))
    near, best = place_all(wanted, book, within=0.02), place_all(wanted, book)
    assert best.proven
    assert near.bound <= best.cost <= near.cost
    assert near.gap <= 0.02


@pytest.mark.parametrize("within", [0.0, 0.01, 0.2])
@pytest.mark.parametrize("seed", range(6))
def test_no_place_takes_what_somebody_has(seed, within):
    """Visits that stay keep their time, room and clinician: every place lies in what is free, and no two meet."""
    dice = random.Random(seed)
    book = small_books.book(dice, clinicians=5, rooms=4, days=14, filled=0.7, closed=(2,))
    wanted = small_books.jobs(dice, book, 25, day=MONDAY + timedelta(days=2))
    answer = place_all(wanted, book, within=within)
    clinicians, rooms, by_key = dict(book.clinicians), dict(book.rooms), {job.key: job for job in wanted}
    for key, place in answer.placed.items():
        taken = ((1 << by_key[key].length.whole) - 1) << place.begin
        assert clinicians[place.clinician] & taken == taken
        assert rooms[place.room] & taken == taken
        assert place.room in by_key[key].rooms
        clinicians[place.clinician] &= ~taken
        rooms[place.room] &= ~taken
    assert answer.placed.keys() | answer.left.keys() == by_key.keys()
    left = places.LEFT_OUT * len(answer.left)
    assert answer.cost == sum(place.points for place in answer.placed.values()) + left


def job(key, **changed):
    plain = {"client": key, "clinician": 0, "day": MONDAY, "minute": 540, "length": Length(0, 6, 0), "rooms": (100,)}
    return places.Job(key, **(plain | changed))


def free_book(**changed):
    return small_books.book(random.Random(0), **({"clinicians": 2, "rooms": 1, "days": 1, "filled": 0.0} | changed))


def test_the_old_time_costs_nothing_and_says_so():
    answer = place_all([job(1)], free_book())
    assert answer.cost == 0
    assert answer.placed[1].parts == (("same_day", 0), ("same_clinician", 0), ("same_time", 0))


def test_two_who_want_one_hour_move_as_little_as_can_be():
    answer = place_all([job(1), job(2)], free_book())
    # one room: the second begins half an hour later
    assert sorted(place.points for place in answer.placed.values()) == [0, 2]


def test_the_window_of_a_reassessment_outweighs_a_day():
    late = job(1, day=MONDAY + timedelta(days=1), earliest=MONDAY, latest=MONDAY)
    answer = place_all([late], free_book(days=2))
    assert answer.placed[1].parts[:2] == (("earlier", 1), ("in_window", 0))


def test_a_client_is_not_called_in_twice_on_one_day():
    begin = g.instant_of(free_book(days=2).grid.first + 180)
    stays = ((begin, begin + timedelta(minutes=30)),)
    answer = place_all([job(1, day=MONDAY + timedelta(days=1), taken=stays)], free_book(days=2))
    assert answer.placed[1].parts[0] == ("same_day", 0)
    moved = place_all([job(1, taken=stays, day=MONDAY + timedelta(days=1), not_on=frozenset({MONDAY + timedelta(days=1)}))],
                      free_book(days=2))
    assert moved.left == {1: "all_taken"}


def test_what_has_no_place_says_why():
    assert place_all([job(1, rooms=())], free_book()).left == {1: "no_room"}
    assert place_all([job(1)], free_book(closed=(0,))).left == {1: "nobody_in"}
    assert place_all([job(1, length=Length(0, 97, 0))], free_book()).left == {1: "all_taken"}
    whole_day = [job(key, length=Length(0, 96, 0)) for key in (1, 2)]
    assert list(place_all(whole_day, free_book()).left.values()) == ["needed_by_others"]
    assert place_all([], free_book()).cost == 0


def test_no_place_costs_as_much_as_none():
    worst = [("later", places.LONGEST), ("outside_window", 90), ("other_clinician", 0), ("other_time", 400)]
    worst.append(("leaves_gap", 2))
    assert places.points_of(worst) < places.LEFT_OUT


def test_when_the_time_is_over_it_is_still_no_worse_than_the_plain_way():
    dice = random.Random(5)
    book = small_books.book(dice, clinicians=3, rooms=3, days=10, filled=0.6)
    wanted = small_books.jobs(dice, book, 30)
    ground = places.ground_of(book)
    placed, cost = in_turn(ground, wanted, [places.costs(ground, each) for each in wanted])
    hurried = place_all(wanted, book, seconds=0.0)
    assert hurried.cost <= cost
    assert place_all(wanted, book).cost <= hurried.cost
    assert cost == sum(place.points for place in placed.values()) + places.LEFT_OUT * (len(wanted) - len(placed))


def reviews(seed):
    """Reviews due on several days, each inside its window and with its own clinician, in a book that is mostly full. In every
    third one any start will do."""
    dice = random.Random(seed)
    book = small_books.book(
        dice, clinicians=dice.randint(1, 2), rooms=dice.randint(1, 2), days=dice.randint(2, 4),
        filled=dice.choice((0.4, 0.7, 0.9)),
    )
    wanted = []
    for key in range(dice.randint(2, 5)):
        due, lead = MONDAY + timedelta(days=dice.randrange(4)), dice.randrange(len(book.clinicians))
        wanted.append(job(
            key, clinician=lead, day=due, minute=None, length=Length(0, dice.choice((6, 9)), 1),
            rooms=tuple(sorted(book.rooms)), earliest=due - timedelta(days=dice.randint(0, 2)),
            latest=due + timedelta(days=dice.randint(0, 2)), inside=True, clinicians=frozenset({lead}),
        ))
    return wanted, replace(book, left_out=400 * (len(wanted) + 1), any_start=seed % 3 == 0)


def test_as_many_reviews_as_can_be_are_placed_inside_their_windows():
    """Against every choice there is: the least cost, and by the price of leaving one out the most that fit."""
    full = 0
    for seed in range(60):
        wanted, book = reviews(seed)
        answer = place_all(wanted, book)
        least = small_books.least_cost(wanted, book)
        assert (answer.cost, answer.proven) == (least, True), seed
        assert len(answer.left) == least // book.left_out, seed
        by_key = {each.key: each for each in wanted}
        for key, place in answer.placed.items():
            day = g.instant_of(book.grid.first + place.begin + by_key[key].length.before).date()
            assert by_key[key].earliest <= day <= by_key[key].latest, seed
            assert place.clinician == by_key[key].clinician, seed
        full += bool(answer.left)
    assert 10 < full < 50, "some books are too full, and some are not"
