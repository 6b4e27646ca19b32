from hypothesis import given
from hypothesis import strategies as st

from netcheck.report._action_words import exercise_title
from netcheck.work import IN_TURN, together


def test_buttons_are_pressed_in_turn() -> None:
    groups = together(
        [
            ("wheel.volume-up", "Ignition on: hold the volume up button", "active"),
            ("terminal-15", "Ignition on", "active"),
            ("wheel.mute", "Ignition on: hold the mute button", "active"),
        ]
    )
    assert [(exercise_title(group), group.do) for group in groups] == [
        ("wheel.volume-up, mute", "Ignition on: hold the (each in turn) button"),
        ("terminal-15", "Ignition on"),
    ]


def test_one_role_alone_keeps_its_words() -> None:
    (group,) = together([("wheel.mute", "Hold the mute button", "active")])
    assert group.do == "Hold the mute button"


def test_the_state_is_named_where_it_is_not_the_active_one() -> None:
    (group,) = together([("reverse-engaged", "Select neutral", "N")])
    assert exercise_title(group) == "reverse-engaged = N"


def test_what_differs_in_more_than_the_name_stays_apart() -> None:
    stay_apart = [
        # another state
        [("a.up", "Press up", "active"), ("a.down", "Press down", "released")],
        # another group of roles
        [("a.up", "Press up", "active"), ("b.down", "Press down", "active")],
        # another time
        [("a.up", "Press up once", "active"), ("a.down", "Press down twice", "active")],
        # a name that stands twice, or only inside another word
        [("a.up", "Press up, look up", "active"), ("a.down", "Press down, look down", "active")],
        [("a.up", "Press upper", "active"), ("a.down", "Press downer", "active")],
        # roles without a group have nothing in common
        [("up", "Press up", "active"), ("down", "Press down", "active")],
    ]
    for exercises in stay_apart:
        assert len(together(exercises)) == 2


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["a.up", "a.down", "b.up", "up"]),
            st.sampled_from(["Press up", "Press down", "Press", f"Press {IN_TURN}", "Press up up"]),
            st.sampled_from(["active", "R", 1]),
        )
    )
)
def test_every_exercise_is_in_exactly_one_group(exercises: list[tuple[str, str, str | int]]) -> None:
    groups = together(exercises)
    found = {(role, group.state) for group in groups for role in group.roles}
    assert found == {(role, state) for role, _, state in exercises}
    for role, do, state in exercises:
        assert any(
            role in group.roles
            and group.state == state
            and (group.do == do or (len(group.roles) > 1 and IN_TURN in group.do))
            for group in groups
        )
