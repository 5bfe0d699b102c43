"""Disclosure control on small cases drawn by hand."""

from itertools import permutations, product

from pipeline.export.disclosure import Cell, Contribution, small_groups, withheld_cells

MINIMUM = 10


def parts(names: range, week: str = "") -> frozenset[Contribution]:
    return frozenset(Contribution(f"S{n}", f"{n}{week}") for n in names)


def whole(*cells: Cell, more: frozenset[Contribution] = frozenset()) -> list[Cell]:
    """The cells with one above them that holds all of them and `more`."""
    held = frozenset(more).union(*(c.contributions for c in cells))
    return [Cell("all", None, held), *cells]


def test_a_cell_of_ten_students_is_shown_and_one_of_nine_is_not() -> None:
    assert withheld_cells([Cell("a", None, parts(range(10)))], MINIMUM) == frozenset()
    assert withheld_cells([Cell("a", None, parts(range(9)))], MINIMUM) == {"a"}


def test_students_count_once_however_many_weeks_they_flew() -> None:
    nine = parts(range(9), "w1") | parts(range(9), "w2")
    assert withheld_cells([Cell("a", None, nine)], MINIMUM) == {"a"}


def test_a_second_cell_is_withheld_where_the_total_would_give_the_first_away() -> None:
    cells = whole(
        Cell("few", "all", parts(range(3))),
        Cell("many", "all", parts(range(10, 30))),
        Cell("more", "all", parts(range(40, 60))),
    )
    withheld = withheld_cells(cells, MINIMUM)
    assert "few" in withheld
    assert len(withheld) == 2
    assert "all" not in withheld


def test_two_small_cells_hide_each_other_if_together_they_are_large_enough() -> None:
    cells = whole(
        Cell("a", "all", parts(range(6))),
        Cell("b", "all", parts(range(10, 16))),
        Cell("c", "all", parts(range(20, 40))),
    )
    assert withheld_cells(cells, MINIMUM) == {"a", "b"}


def test_a_total_goes_too_where_no_part_of_it_can_hide_another() -> None:
    cells = whole(Cell("a", "all", parts(range(9))), Cell("b", "all", parts(range(20, 29))))
    assert withheld_cells(cells, MINIMUM) == {"all", "a", "b"}


def test_what_is_in_the_total_alone_is_a_part_too() -> None:
    """Weeks that cannot be numbered: the total less its only week would be three students."""
    cells = whole(Cell("week", "all", parts(range(20))), more=parts(range(30, 33)))
    assert withheld_cells(cells, MINIMUM) == {"week"}


def test_the_parts_of_a_withheld_cell_are_withheld() -> None:
    cells = [
        *whole(Cell("few", "all", parts(range(9))), Cell("many", "all", parts(range(10, 40)))),
        Cell("few/w1", "few", parts(range(9))),
        Cell("many/w1", "many", parts(range(10, 40))),
    ]
    assert withheld_cells(cells, MINIMUM) == {"few", "many", "few/w1", "many/w1"}


def test_which_cell_hides_another_is_not_told_by_its_size() -> None:
    """A reader who knows the rule, and all but the order, never learns how large a withheld cell is."""
    minimum = 3
    for count in (2, 3):
        seen: dict[tuple[int | None, ...] | None, set[tuple[int, ...]]] = {}
        for sizes in product(range(2 * minimum + 1), repeat=count):
            for order in permutations(range(count)):
                seen.setdefault(_published(sizes, order, minimum), set()).add(sizes)
        for published, possible in seen.items():
            for place, shown in enumerate(published[1:] if published else ()):
                if shown is None:
                    sizes_there = {sizes[place] for sizes in possible}
                    assert len(sizes_there) > 1 or sizes_there == {0}


def _published(
    sizes: tuple[int, ...], order: tuple[int, ...], minimum: int
) -> tuple[int | None, ...] | None:
    """What a reader sees: the total, then each part's size or None; None where the total is withheld too."""
    cells = [
        Cell(str(i), "all", frozenset(Contribution(f"{i}-{n}", "") for n in range(size)))
        for i, size in enumerate(sizes)
        if size
    ]
    if not cells:
        return None
    place = {str(cell): str(number) for cell, number in enumerate(order)}
    withheld = withheld_cells(whole(*cells), minimum, lambda cell_id: place.get(cell_id, ""))
    shown = [size if size and str(i) not in withheld else None for i, size in enumerate(sizes)]
    return None if "all" in withheld else (sum(sizes), *shown)


def test_the_same_cells_are_withheld_every_time() -> None:
    cells = whole(
        Cell("few", "all", parts(range(3))),
        *(Cell(f"c{n}", "all", parts(range(100 * n, 100 * n + 12))) for n in range(1, 8)),
    )
    assert withheld_cells(cells, MINIMUM) == withheld_cells(cells[::-1], MINIMUM)


def test_a_release_that_adds_one_student_to_a_cell_singles_that_student_out() -> None:
    before, after = Cell("a", None, parts(range(12))), Cell("a", None, parts(range(13)))
    found = small_groups([("r1", [before]), ("r2", [after])], (), MINIMUM)
    assert found == (frozenset({"r2: a"}),)


def test_a_figure_that_changed_singles_its_student_out() -> None:
    before = parts(range(12))
    after = (before - {Contribution("S0", "0")}) | {Contribution("S0", "revised")}
    releases = [("r1", [Cell("a", None, before)]), ("r2", [Cell("a", None, after)])]
    assert len(small_groups(releases, (), MINIMUM)) == 2


def test_a_new_tolerance_does_not_hide_who_joined() -> None:
    """Every value is another, by a factor that a reader knows: the old twelve can be worked out."""
    before = frozenset(Contribution(f"S{n}", f"{n:016}" + "of 200 ft") for n in range(12))
    after = frozenset(Contribution(f"S{n}", f"{n:016}" + "of 150 ft") for n in range(13))
    releases = [("r1", [Cell("a", None, before)]), ("r2", [Cell("a", None, after)])]
    assert small_groups(releases, (), MINIMUM) == (frozenset({"r2: a"}),)
    same = frozenset(part for part in after if part.student_id != "S12")
    assert small_groups([releases[0], ("r2", [Cell("a", None, same)])], (), MINIMUM) == ()


def test_rows_under_an_old_tolerance_open_cells_under_a_new_one() -> None:
    opened = [Contribution(f"S{n}", f"{n:016}" + "of 200 ft") for n in range(11)]
    after = frozenset(Contribution(f"S{n}", f"{n:016}" + "of 150 ft") for n in range(12))
    assert small_groups([("r1", [Cell("a", None, after)])], opened, MINIMUM)


def test_ten_students_more_or_none_may_be_released_again() -> None:
    before = Cell("a", None, parts(range(12)))
    for after in (parts(range(12)), parts(range(22))):
        releases = [("r1", [before]), ("r2", [Cell("a", None, after)])]
        assert small_groups(releases, (), MINIMUM) == ()


def test_rows_of_all_but_one_student_of_a_cell_single_out_the_one() -> None:
    cell = Cell("a", None, parts(range(12)))
    assert small_groups([("r1", [cell])], parts(range(11)), MINIMUM) == (frozenset({"r1: a"}),)
    assert small_groups([("r1", [cell])], parts(range(12)), MINIMUM) == ()
