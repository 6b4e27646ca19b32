"""Data classes whose methods are shared: the standard library compiles six of them for each class.

A command has some hundred such classes, and compiling their methods took a quarter of its start.
``dataclass`` does what that of ``dataclasses`` does, whose ``fields`` and ``replace`` know its classes. Left
to the standard library: ``order``, ``slots`` and ``InitVar``. A subclass is to be made in the same way as
its base.
"""

from __future__ import annotations

import dataclasses
import inspect
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from dataclasses import dataclass
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


def _made(cls: type, *, frozen: bool, eq: bool, shown: bool) -> type:
    if not cls.__doc__:  # what the standard library would work out from the signature
        cls.__doc__ = f"{cls.__name__}({', '.join(inspect.get_annotations(cls))})"
    dataclasses.dataclass(init=False, repr=False, eq=False)(cls)
    own = cls.__dict__
    has_hash = own.get("__hash__") is not None or ("__hash__" in own and "__eq__" not in own)
    fields = dataclasses.fields(cls)
    made: dict[str, Any] = {"__init__": _initialiser(cls, fields), "__signature__": _Signature()}
    if shown:
        made["__repr__"] = _shower([field.name for field in fields if field.repr])
    if eq:
        made["__eq__"] = _comparer(compared := tuple(field.name for field in fields if field.compare))
    if frozen:
        made |= {"__setattr__": _refuse_setting, "__delattr__": _refuse_deleting}
    if eq and not has_hash:
        made["__hash__"] = _hasher(compared) if frozen else None
    for name, method in made.items():
        if name not in own or name == "__hash__":
            setattr(cls, name, method)
    return cls


def _initialiser(cls: type, fields: Sequence[dataclasses.Field[Any]]) -> Callable[..., None]:
    wanted = [field for field in fields if field.init]
    by_place = tuple(field.name for field in wanted if not field.kw_only)
    every = by_place + tuple(field.name for field in wanted if field.kw_only)
    defaults = {field.name: field.default for field in fields if field.default is not _MISSING}
    factories = {
        field.name: field.default_factory for field in fields if field.default_factory is not _MISSING
    }
    has_more = hasattr(cls, "__post_init__")

    def __init__(self: Any, /, *values: Any, **named: Any) -> None:  # noqa: N807
        for name, value in zip(by_place, values):  # noqa: B905 – what is too many is told below
            _put(self, name, value)
        missing = []
        for name in every[len(values) :]:
            if name in named:
                _put(self, name, named.pop(name))
            elif name in defaults:
                _put(self, name, defaults[name])
            elif name in factories:
                _put(self, name, factories[name]())
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


def _shower(names: Sequence[str]) -> Callable[[Any], str]:
    def __repr__(self: Any) -> str:  # noqa: N807
        shown = ", ".join(f"{name}={getattr(self, name)!r}" for name in names)
        return f"{type(self).__qualname__}({shown})"

    return __repr__


def _comparer(names: Sequence[str]) -> Callable[[Any, object], bool]:
    def __eq__(self: Any, other: object) -> bool:  # noqa: N807
        if type(other) is not type(self):
            return NotImplemented
        return _values(self, names) == _values(other, names)

    return __eq__


def _hasher(names: Sequence[str]) -> Callable[[Any], int]:
    def __hash__(self: Any) -> int:  # noqa: N807
        return hash(_values(self, names))

    return __hash__


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
    return "__dataclass_params__" in type(record).__dict__ or name in record.__dataclass_fields__


class _Signature:
    """The signature of a class, made when asked for."""

    def __get__(self, _: object, cls: type) -> inspect.Signature:
        if "__dataclass_params__" not in cls.__dict__:
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
