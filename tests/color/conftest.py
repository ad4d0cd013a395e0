"""colour-science warns on import that Matplotlib is absent; the checks need none of its plots."""

import warnings

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour  # noqa: F401
