"""Fuzzing: seeded inputs made from a small corpus in code, for as long as you like.

``python -m tests.fuzz TARGET SECONDS`` runs a target, ``python -m tests.fuzz TARGET --seed N`` one input of
it again. A target takes a ``random.Random`` and an empty folder, makes one input and raises where netcheck
does anything but work or refuse in one line. To add one: a function with ``@target("name")`` in a module of
this package, and the module's name in ``_MODULES`` (``tests/fuzz/targets.py``).
"""
