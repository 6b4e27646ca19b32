"""Kernels: compiled, kept as machine code, called without numba.

``define`` is the door for modules of kernels. It imports numba, so it is not imported here.
"""

from netcheck._compile._kernels import Kernels, kernels
from netcheck._compile._notice import compiling

__all__ = ["Kernels", "compiling", "kernels"]
