"""Data classes that are worked out when they are first used, and whose methods are shared.

The standard library compiles six methods for each class when it is defined. A command defines hundreds and
uses less than half of them. ``dataclass`` does what that of ``dataclasses`` does, whose ``fields`` and
``replace`` know its classes. Left to the standard library: ``order``, ``slots``, ``InitVar`` and fields that
are no arguments. A subclass is to be made in the same way as its base.
"""

from __future__ import annotations

import dataclasses
import inspect
import threading
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from dataclasses import dataclass

    _Maker = Callable[[type], Callable[..., Any]]
else:

    def dataclass(
        cls: type | None = None,
        *,
        frozen: bool = False,
        eq: bool = True,
        repr: bool = True,  # noqa: A002 – the name that people know
    ) -> Any:
        """The class with its fields, and the methods that it does not have itself."""
        if cls is None:
            return lambda made: _made(made, frozen=frozen, eq=eq, shown=repr)
        return _made(cls, frozen=frozen, eq=eq, shown=repr)


__all__ = ["dataclass"]

_put = object.__setattr__
_MISSING = dataclasses.MISSING
_LOCK = threading.RLock()


def _made(cls: type, *, frozen: bool, eq: bool, shown: bool) -> type:
    own = cls.__dict__
    if not cls.__doc__:  # what the standard library would work out from the signature
        cls.__doc__ = f"{cls.__name__}({', '.join(inspect.get_annotations(cls))})"
    has_hash = own.get("__hash__") is not None or ("__hash__" in own and "__eq__" not in own)
    wanted: dict[str, _Maker] = {"__init__": _initialiser}
    if shown:
        wanted["__repr__"] = _shower
    if eq:
        wanted["__eq__"] = _comparer
    wanted = {name: make for name, make in wanted.items() if name not in own}
    if eq and frozen and not has_hash:
        wanted["__hash__"] = _hasher
    shared = {**_SHARED, **(_REFUSING if frozen else {})}
    made: dict[str, Any] = {name: value for name, value in shared.items() if name not in own}
    if eq and not frozen and not has_hash:
        made["__hash__"] = None
    unmade = _Unmade(cls, wanted)
    for name in wanted:
        made[name] = _until_used(unmade, name)
    for name, value in made.items():
        setattr(cls, name, value)
    return cls


class _Unmade:
    """Stands for the fields of a class until they, or a method that knows them, are used."""

    def __init__(self, cls: Any, wanted: Mapping[str, _Maker]) -> None:
        """wanted: what makes each of those methods."""
        self._cls, self._wanted = cls, wanted
        self._written = {n: value for n, value in vars(cls).items() if isinstance(value, dataclasses.Field)}
        for name, field in self._written.items():
            if field.default is _MISSING:
                delattr(cls, name)
            else:
                setattr(cls, name, field.default)
        cls.__dataclass_fields__ = self

    def __get__(self, _: object, __: type) -> Any:
        return self.made()["__dataclass_fields__"]

    def made(self) -> Mapping[str, Any]:
        """What the class has, its fields and methods among it."""
        own: Mapping[str, Any] = self._cls.__dict__
        with _LOCK:
            if own["__dataclass_fields__"] is self:  # no other thread has made them
                for name, field in self._written.items():
                    setattr(self._cls, name, field)
                dataclasses.dataclass(init=False, repr=False, eq=False, match_args=False)(self._cls)
                for name, make in self._wanted.items():
                    setattr(self._cls, name, make(self._cls))
        return own


def _until_used(unmade: _Unmade, name: str) -> Callable[..., Any]:
    """A method that has itself and the others of its class made, and is that one from then on."""

    def method(self: Any, /, *values: Any, **named: Any) -> Any:
        return unmade.made()[name](self, *values, **named)

    return method


def _initialiser(cls: Any) -> Callable[..., None]:
    fields = dataclasses.fields(cls)
    wanted = [field for field in fields if field.init]
    by_place = tuple(field.name for field in wanted if not field.kw_only)
    every = by_place + tuple(field.name for field in wanted if field.kw_only)
    defaults = {field.name: field.default for field in fields if field.default is not _MISSING}
    factories = {
        field.name: field.default_factory for field in fields if field.default_factory is not _MISSING
    }
    has_more = hasattr(cls, "__post_init__")

    def __init__(self: Any, /, *values: Any, **named: Any) -> None:  # noqa: N807
        held = self.__dict__
        held.update(zip(by_place, values))  # noqa: B905 – what is too many is told below
        missing = []
        for name in every[len(values) :]:
            if name in named:
                held[name] = named.pop(name)
            elif name in defaults:
                held[name] = defaults[name]
            elif name in factories:
                held[name] = factories[name]()
            else:
                missing.append(name)
        if missing or named or len(values) > len(by_place):
            raise _misused(cls, missing, named, len(values), every)
        if has_more:
            self.__post_init__()

    __init__.__qualname__ = f"{cls.__qualname__}.__init__"
    return __init__


def _misused(
    cls: type, missing: Sequence[str], named: Mapping[str, Any], given: int, every: Sequence[str]
) -> TypeError:
    """What is wrong with the arguments, as Python says it of a function."""
    call = f"{cls.__qualname__}.__init__()"
    for name in named:
        if name in every:
            return TypeError(f"{call} got multiple values for argument '{name}'")
        return TypeError(f"{call} got an unexpected keyword argument '{name}'")
    if missing:
        return TypeError(f"{call} missing required arguments: {', '.join(map(repr, missing))}")
    return TypeError(f"{call} takes fewer than the {given} values that were given")


def _shower(cls: Any) -> Callable[[Any], str]:
    names = [field.name for field in dataclasses.fields(cls) if field.repr]

    def __repr__(self: Any) -> str:  # noqa: N807
        shown = ", ".join(f"{name}={getattr(self, name)!r}" for name in names)
        return f"{type(self).__qualname__}({shown})"

    return __repr__


def _comparer(cls: type) -> Callable[[Any, object], bool]:
    names = _compared(cls)

    def __eq__(self: Any, other: object) -> bool:  # noqa: N807
        if type(other) is not type(self):
            return NotImplemented
        return _values(self, names) == _values(other, names)

    return __eq__


def _hasher(cls: type) -> Callable[[Any], int]:
    names = _compared(cls)

    def __hash__(self: Any) -> int:  # noqa: N807
        return hash(_values(self, names))

    return __hash__


def _compared(cls: Any) -> Sequence[str]:
    return [field.name for field in dataclasses.fields(cls) if field.compare]


def _values(record: object, names: Sequence[str]) -> tuple[Any, ...]:
    return tuple([getattr(record, name) for name in names])


def _refuse_setting(self: Any, name: str, value: object) -> None:
    if _is_held(self, name):
        raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")
    _put(self, name, value)


def _refuse_deleting(self: Any, name: str) -> None:
    if _is_held(self, name):
        raise dataclasses.FrozenInstanceError(f"cannot delete field {name!r}")
    object.__delattr__(self, name)


def _is_held(record: Any, name: str) -> bool:
    """A subclass that is no data class itself may have more attributes."""
    return "__dataclass_fields__" in type(record).__dict__ or name in record.__dataclass_fields__


class _Signature:
    """The signature of a class, made when asked for."""

    def __get__(self, _: object, cls: type) -> inspect.Signature:
        if "__dataclass_fields__" not in cls.__dict__:
            raise AttributeError("__signature__")
        fields = [field for field in dataclasses.fields(cls) if field.init]
        parameters = [
            inspect.Parameter(
                field.name,
                inspect.Parameter.KEYWORD_ONLY if field.kw_only else inspect.Parameter.POSITIONAL_OR_KEYWORD,
                default=_default(field),
                annotation=field.type,
            )
            for field in sorted(fields, key=lambda field: bool(field.kw_only))
        ]
        return inspect.Signature(parameters, return_annotation=None)


def _default(field: dataclasses.Field[Any]) -> Any:
    if field.default is not _MISSING:
        return field.default
    return inspect.Parameter.empty if field.default_factory is _MISSING else ...


class _MatchArgs:
    """What a class pattern may name by place, made when asked for."""

    def __get__(self, _: object, cls: Any) -> tuple[str, ...]:
        names = tuple(field.name for field in dataclasses.fields(cls) if field.init and not field.kw_only)
        setattr(cls, "__match_args__", names)  # noqa: B010 – to mypy this name is the interpreter's
        return names


_SHARED = {"__signature__": _Signature(), "__match_args__": _MatchArgs()}
_REFUSING = {"__setattr__": _refuse_setting, "__delattr__": _refuse_deleting}
