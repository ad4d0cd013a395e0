"""The library behind Bundle Stacks: from photos of precut squares to the stacks of a pattern.

Each step is a module; what passes between steps is a frozen dataclass or a NumPy array whose
shape and unit its docstring states. Nothing here knows of screens, arguments or print-outs.
"""

__version__ = "0.1.0"
