"""What is kept is made once, until something that it hangs on is another; few things are kept."""

from __future__ import annotations

from cure.dashboard.kept import Kept


def test_a_thing_is_made_anew_when_what_it_hangs_on_is_another() -> None:
    made = list[int]()
    kept = Kept[int](most=2)

    def of(key: str, *hangs_on: object) -> int:
        def make() -> int:
            made.append(len(made))
            return made[-1]

        return kept.of(key, hangs_on, make)

    assert [of("a", {"x": 1}), of("a", {"x": 1}), of("a", {"x": 2}), of("a", {"x": 1})] == [0, 0, 1, 2]
    assert [of("b", 1), of("a", {"x": 1}), of("c", 1), of("a", {"x": 1})] == [3, 2, 4, 2]
    assert of("b", 1) == 5, "not asked for for longest"
