# SPDX-License-Identifier: MIT
"""A station's names: milepost either way, landmark, odometer; expected values by hand from an exact mile."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from descent.route.naming import (
    Mileposts,
    milepost_at,
    mileposts_of,
    name_station,
    near_place,
    odometer_m,
    posted_number,
    station_text,
)
from descent.route.places import Place
from descent.units import METRIC, US

MILE = 1609.344         # exact by definition


def place(name: str, station_m: float, kind: str = "milepost", **attributes: str) -> Place:
    return Place(name, kind, 0.0, 0.0, station_m, 3.0, "right", attributes=attributes)


def row(first: int, last: int, start_m: float, step: int = 1) -> list[Place]:
    return [place(f"Mile {number}", start_m + MILE * abs(number - first)) for number in range(first, last, step)]


def test_between_two_posts_it_is_linear() -> None:
    posts = mileposts_of(row(12, 16, 400.0))
    assert milepost_at(posts, 400.0) == 12
    assert milepost_at(posts, 400 + 1.25 * MILE) == pytest.approx(13.25)
    assert milepost_at(posts, 400 + 3 * MILE) == pytest.approx(15)


def test_numbers_may_fall_along_travel() -> None:
    posts = mileposts_of(row(16, 12, 0.0, -1))
    assert milepost_at(posts, 0.5 * MILE) == pytest.approx(15.5)
    assert milepost_at(posts, 3.5 * MILE) == pytest.approx(12.5)


def test_a_mile_beyond_the_last_post_and_no_farther() -> None:
    posts = mileposts_of(row(1, 4, 2 * MILE))
    assert milepost_at(posts, 1.5 * MILE) == pytest.approx(0.5)
    assert milepost_at(posts, 4.9 * MILE) == pytest.approx(3.9)
    assert milepost_at(posts, 5.1 * MILE) is None
    assert milepost_at(posts, 0.9 * MILE) is None


def test_there_is_no_reading_below_zero() -> None:
    assert milepost_at(mileposts_of(row(0, 3, 0.5 * MILE)), 0.2 * MILE) is None


def test_uneven_posts_are_taken_as_they_stand() -> None:
    posts = mileposts_of([place("7", 0.0), place("8", 1.1 * MILE)])
    assert milepost_at(posts, 0.55 * MILE) == pytest.approx(7.5)


def test_a_road_that_starts_counting_anew_has_two_runs() -> None:
    posts = mileposts_of([*row(97, 100, 0.0), *row(4, 7, 3.4 * MILE)])
    assert [len(run) for run in posts.runs] == [3, 3]
    assert milepost_at(posts, 1.5 * MILE) == pytest.approx(98.5)
    assert milepost_at(posts, 3.9 * MILE) == pytest.approx(4.5)


def test_a_post_that_does_not_fit_is_left_out_and_named() -> None:
    posts = mileposts_of([*row(12, 15, 0.0), place("Mile 99", 2.5 * MILE), place("Mile 15", 3 * MILE),
                          place("old stone", 3.2 * MILE)])
    assert milepost_at(posts, 2.5 * MILE) == pytest.approx(14.5)
    assert set(posts.left_out) == {"99", "old stone"}


def test_one_post_alone_names_nothing() -> None:
    posts = mileposts_of([place("Mile 5", 100.0)])
    assert not posts.known and milepost_at(posts, 100.0) is None and posts.left_out == ("5",)


@pytest.mark.parametrize(("name", "attributes", "number"), [
    ("Mile 12", {}, 12), ("MP 12.5", {}, 12.5), ("12", {}, 12), ("post", {"milepost": "7"}, 7), ("post", {}, None),
    ("Route 9 mile 12", {}, None), ("Route 9 mile 12", {"mile": "12"}, 12), ("M", {"Distance": "3 mi"}, 3)])
def test_the_number_of_a_post(name: str, attributes: dict[str, str], number: float | None) -> None:
    assert posted_number(place(name, 0.0, **attributes)) == number


def test_the_nearest_landmark_is_named_with_the_way_to_it() -> None:
    places = [place("Greywater", 1000.0, "town"), place("The Anvil", 2000.0, "landmark"), place("Mile 3", 1190.0)]
    near = near_place(places, 1200.0)
    assert near is not None and near.place.name == "Greywater" and near.after_m == 200.0
    ahead = near_place(places, 1800.0)
    assert ahead is not None and ahead.place.name == "The Anvil" and ahead.after_m == -200.0
    assert near_place(places, 9000.0) is None


def test_of_two_at_one_station_the_town_counts() -> None:
    places = [place("lay-by", 1000.0, "pull-out"), place("Greywater", 1000.0, "town")]
    near = near_place(places, 1100.0)
    assert near is not None and near.place.name == "Greywater"


def test_odometer_from_a_chosen_zero() -> None:
    assert odometer_m(5000.0, zero_m=1200.0) == 3800.0
    assert odometer_m(1000.0, zero_m=1200.0) == -200.0


def test_texts() -> None:
    posts = row(12, 16, 0.0)
    town = [place("Greywater", 100 * MILE, "town")]
    assert station_text(name_station([*posts, *town], 1.5 * MILE), US) == "MP 13.5"
    assert station_text(name_station(town, 100.3 * MILE), US) == "0.3 mi past Greywater"
    assert station_text(name_station(town, 100 * MILE - 400), METRIC) == "0.4 km before Greywater"
    assert station_text(name_station(town, 100 * MILE), US) == "at Greywater"
    assert station_text(name_station([], 7 * MILE, zero_m=2 * MILE), US) == "5.0 mi"


def test_runs_found_once_serve_many_stations() -> None:
    posts = mileposts_of(row(12, 16, 0.0))
    assert name_station([], 0.5 * MILE, posts=posts).milepost == pytest.approx(12.5)
    assert name_station(row(12, 16, 0.0), 0.5 * MILE, posts=Mileposts(())).milepost is None


@given(st.integers(0, 300), st.integers(2, 30), st.booleans(), st.floats(0, 1))
def test_evenly_posted_roads_read_true_miles(first: int, count: int, falling: bool, share: float) -> None:
    numbers = list(range(first, first + count))
    posts = mileposts_of([place(str(number), MILE * k) for k, number in enumerate(numbers[::-1] if falling else numbers)])
    station = share * (count - 1) * MILE
    expected = (first + count - 1 - station / MILE) if falling else first + station / MILE
    assert milepost_at(posts, station) == pytest.approx(expected, abs=1e-6)
