"""Data classes with shared methods behave as those of the standard library."""

from __future__ import annotations

import ast
import copy
import dataclasses
import inspect
import pickle
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import FrozenInstanceError, field
from functools import cached_property, partial
from pathlib import Path
from typing import Any, ClassVar

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import netcheck
from netcheck.records import dataclass

Maker = Callable[..., Any]


def _classes(made: Maker) -> dict[str, Any]:
    """The same classes, made one way or the other."""

    @made(frozen=True)
    class Point:
        """Doc."""

        kind: ClassVar[str] = "point"
        x: int
        y: tuple[int, ...] = (1, 2)
        hidden: str = field(default="h", repr=False)
        apart: int = field(default=0, compare=False)
        many: tuple[int, ...] = field(default_factory=tuple)
        only: bool = field(default=False, kw_only=True)

        @cached_property
        def twice(self) -> int:
            return 2 * self.x

    @made(frozen=True)
    class Wide(Point):
        z: int = 5

    @made
    class Loose:
        a: int
        b: list[int] = field(default_factory=list)

    @made(frozen=True, eq=False)
    class Same:
        a: int

    @made(frozen=True, repr=False)
    class Own:
        a: int

        def __repr__(self) -> str:
            return "own"

        def __eq__(self, other: object) -> bool:
            return True

        def __hash__(self) -> int:
            return 7

    @made(frozen=True)
    class Checked:
        a: int

        def __post_init__(self) -> None:
            if self.a < 0:
                raise ValueError("below 0")

    return {one.__name__: one for one in (Point, Wide, Loose, Same, Own, Checked)}


OURS, THEIRS = _classes(dataclass), _classes(dataclasses.dataclass)


@dataclass(frozen=True)
class Kept:
    """Of a module, so that it can be pickled."""

    a: int
    b: str = "b"


def _outcome(function: Callable[[], Any]) -> object:
    try:
        return function()
    except Exception as error:
        return type(error)


CALLS: dict[str, Callable[[dict[str, Any]], Any]] = {
    "by place": lambda c: repr(c["Point"](1, (3,), "x", 4, (5,), only=True)),
    "by name": lambda c: repr(c["Point"](y=(), x=1)),
    "mixed": lambda c: repr(c["Wide"](1, z=3, only=True)),
    "nothing given": lambda c: c["Point"](),
    "too many": lambda c: c["Point"](1, (), "", 0, (), True),
    "unknown": lambda c: c["Point"](1, what=2),
    "twice": lambda c: c["Point"](1, x=2),
    "post": lambda c: c["Checked"](-1),
    "set": lambda c: setattr(c["Point"](1), "x", 2),
    "set another": lambda c: setattr(c["Point"](1), "w", 2),
    "delete": lambda c: delattr(c["Point"](1), "x"),
    "set in a subclass": lambda c: setattr(type("Sub", (c["Point"],), {})(1), "w", 2),
    "set a field in a subclass": lambda c: setattr(type("Sub", (c["Point"],), {})(1), "x", 2),
    "set in a loose one": lambda c: setattr(c["Loose"](1), "a", 2),
    "equal": lambda c: c["Point"](1) == c["Point"](1, apart=3),
    "not equal": lambda c: c["Point"](1) == c["Point"](1, hidden="i"),
    "another class": lambda c: c["Point"](1) == c["Wide"](1),
    "hash": lambda c: hash(c["Point"](1)) == hash(c["Point"](1, apart=3)),
    "hash of what it holds": lambda c: hash(c["Point"](1)),
    "hash of a list": lambda c: hash(c["Point"](1, [])),
    "hash of a loose one": lambda c: hash(c["Loose"](1)),
    "same only": lambda c: (c["Same"](1) == c["Same"](1), len({c["Same"](1), c["Same"](1)})),
    "own": lambda c: (repr(c["Own"](1)), c["Own"](1) == 3, hash(c["Own"](1))),
    "own list": lambda c: c["Loose"](1).b is c["Loose"](1).b,
    "replaced": lambda c: repr(dataclasses.replace(c["Wide"](1), x=2, z=9)),
    "replaced unknown": lambda c: dataclasses.replace(c["Wide"](1), w=2),
    "as a tuple": lambda c: dataclasses.astuple(c["Wide"](1)),
    "is a data class": lambda c: [dataclasses.is_dataclass(one) for one in (*c.values(), c["Loose"]([]))],
    "as a dictionary": lambda c: dataclasses.asdict(c["Wide"](1)),
    "fields": lambda c: [one.name for one in dataclasses.fields(c["Wide"])],
    "cached": lambda c: (c["Point"](4).twice, vars(c["Point"](4)).get("twice")),
    "copied": lambda c: repr(copy.copy(c["Point"](1))),
    "signature": lambda c: {
        name: [(one.name, one.kind, one.annotation) for one in inspect.signature(made).parameters.values()]
        for name, made in c.items()
    },
    "matched": lambda c: c["Wide"].__match_args__,
    "matched by place": lambda c: _matched(c["Wide"], c["Wide"](1, (2,), "c")),
    "doc": lambda c: c["Point"].__doc__,
}


def _matched(cls: Any, made: Any) -> object:
    match made:
        case cls(1, second, third):
            return second, third
    return None


@pytest.mark.parametrize("what", CALLS)
def test_does_what_the_standard_library_does(what: str) -> None:
    assert _outcome(lambda: CALLS[what](OURS)) == _outcome(lambda: CALLS[what](THEIRS))


@pytest.mark.parametrize("what", CALLS)
def test_a_class_is_worked_out_by_whatever_asks_first(what: str) -> None:
    assert _outcome(lambda: CALLS[what](_classes(dataclass))) == _outcome(lambda: CALLS[what](THEIRS))


Shape = list[tuple[str, dict[str, Any]]]  # names of fields, each with what ``field`` is told of it

_FIELD = st.fixed_dictionaries(
    {},
    optional={
        "repr": st.booleans(),
        "compare": st.booleans(),
        "kw_only": st.booleans(),
    },
)
_VALUE: st.SearchStrategy[dict[str, Any]] = st.one_of(
    st.just({}), st.just({"default": 3}), st.just({"default": None}), st.just({"default_factory": tuple})
)
_SHAPE = st.lists(
    st.tuples(st.sampled_from("abcd"), st.builds(lambda one, two: one | two, _FIELD, _VALUE)),
    unique_by=lambda pair: pair[0],
)
_FLAGS = st.fixed_dictionaries({"eq": st.booleans(), "repr": st.booleans()})


def _built(made: Maker, shapes: list[Shape], flags: list[dict[str, bool]], frozen: bool) -> Any:
    """The last of several classes, each one a subclass of the one before."""
    cls: type = object
    for number, (shape, flag) in enumerate(zip(shapes, flags, strict=True)):
        body: dict[str, Any] = {"__annotations__": {name: "object" for name, _ in shape}}
        for name, told in shape:
            if told.keys() == {"default"}:
                body[name] = told["default"]
            elif told:
                body[name] = field(**told)
        cls = made(frozen=frozen, **flag)(type(f"Made{number}", (cls,), body))
    return cls


USES: dict[str, Callable[[Any, list[Any], dict[str, Any]], Any]] = {
    "shown": lambda cls, values, named: _without_address(repr(cls(*values, **named))),
    "held": lambda cls, values, named: vars(cls(*values, **named)),
    "equal": lambda cls, values, named: cls(*values, **named) == cls(*values, **named),
    "hashed": lambda cls, values, named: len({cls(*values, **named), cls(*values, **named)}),
    "has a hash": lambda cls, _, __: cls.__hash__ is None,
    "fields": lambda cls, _, __: repr(dataclasses.fields(cls)),
    "replaced": lambda cls, values, named: vars(dataclasses.replace(cls(*values, **named), a=7)),
    "matched": lambda cls, _, __: cls.__match_args__,
    "set": lambda cls, values, named: setattr(cls(*values, **named), "a", 8),
    "unpickled": lambda cls, _, __: repr(dataclasses.fields(copy.copy(object.__new__(cls)))),
    "of the class": lambda cls, _, __: [getattr(cls, name, "none") for name in "abcd"],
}


def _without_address(shown: str) -> str:
    return shown.partition(" at 0x")[0]


@settings(max_examples=100, deadline=None)
@given(
    st.integers(1, 3).flatmap(
        lambda count: st.tuples(
            st.lists(_SHAPE, min_size=count, max_size=count), st.lists(_FLAGS, min_size=count, max_size=count)
        )
    ),
    st.booleans(),
    st.permutations(list(USES)),
    st.lists(st.integers(0, 2), max_size=4),
    st.dictionaries(st.sampled_from("abcde"), st.integers(0, 2), max_size=3),
)
def test_any_class_used_in_any_order(
    made_of: tuple[list[Shape], list[dict[str, bool]]],
    frozen: bool,
    uses: list[str],
    values: list[int],
    named: dict[str, int],
) -> None:
    try:
        theirs = _built(dataclasses.dataclass, *made_of, frozen)
    except TypeError:  # a field without a default behind one with it, which ours does not look for
        assume(False)
    ours = _built(dataclass, *made_of, frozen)
    for use in uses:
        ours_did, theirs_did = (_outcome(partial(USES[use], cls, values, named)) for cls in (ours, theirs))
        assert ours_did == theirs_did, use


def test_several_threads_may_be_the_first() -> None:
    for _ in range(20):
        classes = _classes(dataclass)
        with ThreadPoolExecutor(4) as threads:
            waiting = threading.Barrier(4)

            def used(classes: dict[str, Any] = classes, waiting: threading.Barrier = waiting) -> str:
                waiting.wait()
                return repr(classes["Wide"](1))

            assert len({future.result() for future in [threads.submit(used) for _ in range(4)]}) == 1


def test_says_what_is_wrong_with_a_call() -> None:
    for call, said in (
        (OURS["Point"], "missing required arguments: 'x'"),
        (lambda: OURS["Point"](1, what=2), "got an unexpected keyword argument 'what'"),
        (lambda: OURS["Point"](1, x=2), "got multiple values for argument 'x'"),
        (lambda: OURS["Same"](1, 2), "takes fewer than the 2 values that were given"),
    ):
        with pytest.raises(TypeError, match=said):
            call()
    with pytest.raises(FrozenInstanceError, match="cannot assign to field 'x'"):
        OURS["Point"](1).x = 2


def test_goes_through_pickle() -> None:
    kept = Kept(1, b="c")
    assert pickle.loads(pickle.dumps(kept)) == kept
    assert vars(kept) == {"a": 1, "b": "c"}


def test_all_rooms_take_it() -> None:
    """The standard library's is for those with an order."""
    for path in sorted(Path(netcheck.__file__).parent.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        taken = [
            alias.name
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom) and node.module == "dataclasses"
            for alias in node.names
        ]
        if "dataclass" in taken and path.name != "records.py":
            assert "@dataclass(frozen=True, order=True)" in path.read_text(encoding="utf-8"), path
