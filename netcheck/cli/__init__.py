"""The command line: parse, load, call one function, print, exit status."""

from netcheck.cli._main import main

__all__ = ["main"]
