"""Kernels: translated, compiled, kept as machine code, called without numba.

``define`` is the door for modules of kernels. Only who compiles needs it, so it is not imported here.
"""

from netcheck._compile._kernels import Kernels, kernels
from netcheck._compile._notice import compiling

__all__ = ["Kernels", "compiling", "kernels"]
